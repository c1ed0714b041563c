// The liquid's shade: 17 fixed tones, only their offsets follow the calibration. No DOM here.

const TONES = 16;

function between(a, b, share) {
  return a + (b - a) * share;
}

/** Height at which a profile (heights falling or rising, density monotone) has this density. */
export function heightOf(density, profile) {
  const points = [...profile].sort((a, b) => a.density_g_cm3 - b.density_g_cm3);
  for (let i = 1; i < points.length; i += 1) {
    const [light, heavy] = [points[i - 1], points[i]];
    if (density > heavy.density_g_cm3 + 1e-12) continue;
    const span = heavy.density_g_cm3 - light.density_g_cm3;
    const share = span === 0 ? 0 : (density - light.density_g_cm3) / span;
    if (share < -1e-9) return null;
    return between(light.above_bottom_mm, heavy.above_bottom_mm, share);
  }
  return null;
}

function clampShare(value) {
  return Math.min(1, Math.max(0, value));
}

/**
 * Stops of the liquid from surface (0) to foot (1): each sixteenth of the density span lies
 * where the calibration puts it, so that flattened ends are seen. A profile in `shade`
 * (0 light end … 1 heavy end) instead of densities serves pages that must not show any.
 */
export function rampStops(profile, length) {
  const points = profile.map((point) => ({
    above_bottom_mm: Number(point.above_bottom_mm),
    density_g_cm3: Number(point.shade ?? point.density_g_cm3),
  }));
  const densities = points.map((point) => point.density_g_cm3);
  const [light, heavy] = [Math.min(...densities), Math.max(...densities)];
  if (points.length < 2 || heavy === light) return [];
  const stops = [];
  for (let tone = 0; tone <= TONES; tone += 1) {
    const height = heightOf(between(light, heavy, tone / TONES), points);
    stops.push({ offset: clampShare(1 - height / length), tone });
  }
  return stops;
}

/**
 * Stops while a float set is being typed: each typed float brings the tone of its certified
 * density to its typed height. Two swapped lines show as a dark band above a light one.
 */
export function typedStops(floats, length) {
  const all = floats.map((float) => Number(float.density_g_cm3));
  const [light, heavy] = [Math.min(...all), Math.max(...all)];
  if (!(heavy > light)) return [];
  return floats
    .filter((float) => float.above_bottom_mm !== null && float.above_bottom_mm !== undefined)
    .map((float) => ({
      offset: clampShare(1 - float.above_bottom_mm / length),
      tone: Math.round((TONES * (Number(float.density_g_cm3) - light)) / (heavy - light)),
    }))
    .sort((a, b) => a.offset - b.offset);
}

const STEPS = [0.0005, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05];

/** Ticks of the density axis: never one beyond an end float. */
export function densityTicks(profile, { most = 10 } = {}) {
  const densities = profile.map((point) => Number(point.density_g_cm3));
  const [light, heavy] = [Math.min(...densities), Math.max(...densities)];
  const step = STEPS.find((size) => (heavy - light) / size <= most) ?? 0.1;
  const fine = step === 0.005 ? 0.001 : step / 5;
  const ticks = [];
  for (let i = Math.ceil(light / fine - 1e-6); i * fine <= heavy + fine * 1e-6; i += 1) {
    const density = i * fine;
    const share = density / step;
    const height = heightOf(Math.min(Math.max(density, light), heavy), profile);
    ticks.push({ density, height, numbered: Math.abs(share - Math.round(share)) < 1e-6 });
  }
  return { ticks, places: step < 0.001 ? 4 : 3 };
}
