// From printed heights to places on the drawing. No DOM here.

/** The scale as numbers; decimals travel as strings. */
export function readScale(scale) {
  return {
    origin: scale.origin,
    length: Number(scale.length_mm),
    low: Number(scale.readable_low_mm),
    high: Number(scale.readable_high_mm),
    bore: Number(scale.bore_mm),
    division: scale.division_mm,
  };
}

/** A printed height, measured upward from the lower end; a top scale counts downward. */
export function aboveBottom(printed, scale) {
  return scale.origin === "top" ? scale.length - printed : printed;
}

/** What the scale reads at a height above the bottom. */
export function printedAt(above, scale) {
  return scale.origin === "top" ? scale.length - above : above;
}

/** Every `step` mm of the scale, bottom to top, as heights above the bottom. */
export function marksEvery(step, scale) {
  const marks = [];
  for (let printed = 0; printed <= scale.length + 1e-9; printed += step) {
    marks.push(aboveBottom(printed, scale));
  }
  return marks;
}

/**
 * True proportions: the bore is to the height as in the glass. When the box is too narrow for
 * that, the whole glass shrinks, never the bore alone.
 */
export function fitGlass({ width, height, top, foot, scale }) {
  const room = Math.max(height - top - foot, 40);
  const bore = (room * scale.bore) / scale.length;
  const glassHeight = bore > width ? (width * scale.length) / scale.bore : room;
  return {
    perMm: glassHeight / scale.length,
    bore: Math.min(bore, width),
    top: top + (room - glassHeight) / 2,
    bottom: top + (room + glassHeight) / 2,
  };
}

/** y of a height above the bottom. */
export function placeOn(glass) {
  return (above) => glass.bottom - above * glass.perMm;
}
