// "Which one is mine?" A bracket on the crowded stretch and the stretch beside it, enlarged.
import { round as r, svg } from "../dom.js";
import { decimal, word } from "../words.js";
import { text } from "./axes.js";
import { assignLanes, crowdedStretch, spreadLabels } from "./labels.js";
import { drawPiece } from "./pieces.js";
import { printedAt } from "./scale.js";

const TIMES = 4;

function lensMarks(box, stretch, scale, y) {
  let fine = "";
  let coarse = "";
  for (let above = Math.ceil(stretch.low); above <= stretch.high; above += 1) {
    const five = Math.round(printedAt(above, scale)) % 5 === 0;
    const mark = `M${r(box.x)} ${r(y(above))}h${five ? 12 : 6}`;
    if (five) coarse += mark;
    else fine += mark;
  }
  return [svg("path", { class: "tube-etch tube-etch-fine", d: fine }),
    svg("path", { class: "tube-etch", d: coarse })];
}

function lensNumbers(box, stretch, scale, y, em) {
  const numbers = [];
  for (let above = Math.ceil(stretch.low); above <= stretch.high; above += 1) {
    const printed = Math.round(printedAt(above, scale));
    if (printed % 5 === 0) {
      numbers.push(text(String(printed), box.x + 16, y(above), "tube-number", em));
    }
  }
  return numbers;
}

function lensName(piece, x, y, em) {
  const name = text(`${piece.lot_tail} ${word(`shape.${piece.shape}`)}`, x, y,
    "tube-label tube-halo", em);
  if (piece.density_g_cm3) {
    name.append(svg("tspan", { class: "tube-number", dx: r(8 * em),
      text: decimal(piece.density_g_cm3) }));
  }
  return name;
}

function lensPieces(pieces, box, y, em) {
  const size = 13 * em;
  const lanes = assignLanes(pieces.map((piece) => y(piece.above_bottom_mm)), size);
  const { placed } = spreadLabels(
    pieces.map((piece) => ({ piece, at: y(piece.above_bottom_mm), size: 17 * em })),
    { low: box.y, high: box.y + box.height, gap: 1 });
  const right = box.x + box.width;
  const marks = pieces.map((piece, index) => drawPiece(piece.shape,
    box.x + box.width * (lanes[index] ? 0.86 : 0.64), y(piece.above_bottom_mm), size, piece.age));
  const names = placed.map(({ piece, centre }) => lensName(piece, right + 20, centre, em));
  const lines = placed.map(({ piece, centre }) =>
    `M${r(right)} ${r(y(piece.above_bottom_mm))}h4L${r(right + 14)} ${r(centre)}h3`).join("");
  return [...marks, svg("path", { class: "tube-leader", d: lines }), ...names];
}

function drawLens(lens, x, centre) {
  const { stretch, pieces, lay, size, times } = lens;
  const { em, scale, y, box: glass } = lay;
  const height = size - 26 * em;
  const top = centre - size / 2 + 20 * em;
  const box = { x: x + 18 * em, y: top, width: 84 * em, height };
  const inLens = (above) =>
    top + height - ((above - stretch.low) / (stretch.high - stretch.low)) * height;
  const [high, low, right] = [y(stretch.high), y(stretch.low), glass.right + 2];
  const frame = { x: r(box.x), y: r(top), width: r(box.width), height: r(height), rx: 4 };
  return svg("g", { class: "lens" },
    svg("path", { class: "tube-bracket", d: `M${r(right)} ${r(high)}h4V${r(low)}h-4` }),
    svg("path", { class: "tube-leader", d: `M${r(right + 4)} ${r(high)}L${r(box.x)} ${r(top)}`
      + `M${r(right + 4)} ${r(low)}L${r(box.x)} ${r(top + height)}` }),
    svg("rect", { ...frame, class: "tube-lens-ground" }),
    ...lensMarks(box, stretch, scale, inLens),
    ...lensNumbers(box, stretch, scale, inLens, em),
    ...lensPieces(pieces, box, inLens, em),
    svg("rect", { ...frame, class: "tube-lens" }),
    text(word("tube.lens", { times }), box.x, top - 11 * em, "tube-note tube-halo", em));
}

/** Pieces that the lens does not name. */
export function outside(pieces, lens) {
  return lens ? pieces.filter((piece) => !lens.pieces.includes(piece)) : pieces;
}

/** The lens on the crowded stretch of these pieces, as one tall label; null where none is needed. */
export function lensFor(placed, lay) {
  const stretch = crowdedStretch(placed);
  if (!stretch) return null;
  const pieces = placed.filter((piece) => piece.above_bottom_mm >= stretch.low
    && piece.above_bottom_mm <= stretch.high);
  const natural = (stretch.high - stretch.low) * lay.glass.perMm;
  const height = Math.max(natural * TIMES, (pieces.length * 18 + 16) * lay.em);
  const lens = {
    stretch, pieces, lay, size: height + 26 * lay.em, times: Math.round(height / natural),
    at: lay.y((stretch.low + stretch.high) / 2),
  };
  return { ...lens, draw: (x, centre) => drawLens(lens, x, centre) };
}
