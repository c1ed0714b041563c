// What stands beside the glass: scale numbers, float names, measured stretch, densities, lots.
import { round as r, svg } from "../dom.js";
import { decimal } from "../words.js";
import { groupByLot, spreadLabels } from "./labels.js";
import { drawPiece } from "./pieces.js";
import { densityTicks } from "./ramp.js";
import { marksEvery, printedAt } from "./scale.js";

export function text(content, x, y, className, em) {
  return svg("text", { x: r(x), y: r(y + 4.5 * em), class: className, text: content });
}

export function drawScaleNumbers(x, scale, y, em) {
  return marksEvery(100, scale).map((above) => text(
    String(Math.round(printedAt(above, scale))), x, y(above), "tube-number tube-end tube-halo", em));
}

/** Horizontal from the wall, one oblique piece, horizontal into the label. */
function leader(fromX, fromY, bendX, toX, toY) {
  const oblique = Math.min(14, Math.abs(toX - bendX) * 0.7) * Math.sign(toX - bendX);
  return `M${r(fromX)} ${r(fromY)}H${r(bendX)}L${r(bendX + oblique)} ${r(toY)}H${r(toX)}`;
}

/** Float names (and heights, where wanted) on one side, each at its own float. */
export function drawFloatLabels(floats, { wall, bend, at, side, y, em, room, heights, short }) {
  const size = 15 * em;
  const { placed } = spreadLabels(
    floats.map((float) => ({ float, at: y(float.above_bottom_mm), size })), { ...room, gap: 1 });
  const anchor = side === "left" ? "tube-end" : "tube-start";
  const nodes = placed.map(({ float, centre }) => {
    const label = text(short ? float.label.split("-").at(-1) : float.label, at, centre, `tube-label tube-halo ${anchor}`, em);
    if (heights) {
      label.append(svg("tspan", { class: "tube-number", dx: r(8 * em),
        text: decimal(float.height_mm) }));
    }
    return label;
  });
  const gap = side === "left" ? 5 : -5;
  const lines = placed.map(({ float, centre }) =>
    leader(wall, y(float.above_bottom_mm), bend, at + gap, centre)).join("");
  return short ? nodes : [svg("path", { class: "tube-leader", d: lines }), ...nodes];
}

/** Solid where the column gives densities (end float to end float), dashed where it gives none. */
export function drawStretch(x, width, { ends, scale, y }) {
  const whole = [y(scale.length), y(0)];
  const box = (top, bottom, className, inset = 0) => svg("rect", {
    class: className, x: r(x + inset), y: r(top), width: r(width - 2 * inset),
    height: r(Math.max(0, bottom - top)) });
  if (!ends) return [box(...whole, "strip-gone", 0.5)];
  const [top, bottom] = [y(ends.high), y(ends.low)];
  return [box(whole[0], top, "strip-gone", 0.5), box(top, bottom, "strip-solid"),
    box(bottom, whole[1], "strip-gone", 0.5)];
}

/** Density from end float to end float, placed through the calibration. */
export function drawDensityAxis(x, profile, { y, em, title }) {
  const { ticks, places } = densityTicks(profile);
  const seen = ticks.filter((tick) => tick.height !== null);
  const heights = profile.map((point) => point.above_bottom_mm);
  const [top, bottom] = [y(Math.max(...heights)), y(Math.min(...heights))];
  const marks = seen.map((tick) => `M${r(x)} ${r(y(tick.height))}h${tick.numbered ? 9 : 4}`).join("");
  const nodes = [svg("path", { class: "tube-axis",
    d: `M${r(x + 5)} ${r(top)}H${r(x)}V${r(bottom)}h5${marks}` })];
  let last = -Infinity;
  for (const tick of seen.filter((each) => each.numbered).sort((a, b) => b.height - a.height)) {
    const place = y(tick.height);
    if (place - last < 14 * em) continue;
    last = place;
    nodes.push(text(decimal(tick.density.toFixed(places)), x + 13 * em, place,
      "tube-number tube-halo", em));
  }
  if (title) nodes.push(text(title, x, top - 18 * em, "tube-number tube-halo", em));
  return nodes;
}

/**
 * Lots right of the glass: last four of the code, the shapes of its pieces beneath. A lens on a
 * crowded stretch takes its place among them like one tall label.
 */
export function drawLotLabels(placedPieces, { bend, at, em, room, size, grown, lens = null }) {
  const tall = 16 * em + size + 3 * em;
  const groups = groupByLot(placedPieces).map((group) => ({
    group, size: tall, at: group.reduce((sum, piece) => sum + piece.y, 0) / group.length
      + (tall - 16 * em) / 2,
  }));
  const { placed, fits } = spreadLabels(lens ? [...groups, lens] : groups, { ...room, gap: 3 * em });
  const nodes = [];
  let lines = "";
  for (const label of placed) {
    if (!label.group) {
      nodes.push(label.draw(at, label.centre));
      continue;
    }
    const top = label.centre - tall / 2 + 8 * em;
    for (const piece of label.group) {
      lines += leader(piece.x + size * 0.4, piece.y, bend, at - 4, top);
    }
    nodes.push(...lotLabel(label.group, at, top, { em, size, grown }));
  }
  return { nodes: [svg("path", { class: "tube-leader", d: lines }), ...nodes], fits };
}

function lotLabel(group, at, y, { em, size, grown }) {
  const name = grown ? group[0].lot : group[0].lot_tail;
  return [text(name, at, y, "tube-label tube-halo", em),
    ...lotPieces(group, at, y + 8 * em + size / 2 + 2 * em, { em, size, grown })];
}

/** Shapes beneath the lot, top first; on the large drawing each with its own density. */
function lotPieces(group, at, y, { em, size, grown }) {
  const step = grown ? size + 62 * em : size * 1.35;
  return group.flatMap((piece, index) => {
    const x = at + size * 0.5 + index * step;
    const shape = drawPiece(piece.shape, x, y, size, piece.age);
    if (!grown || !piece.density_g_cm3) return [shape];
    return [shape, text(decimal(piece.density_g_cm3), x + size * 0.8 + 2 * em, y,
      "tube-number tube-halo", em)];
  });
}
