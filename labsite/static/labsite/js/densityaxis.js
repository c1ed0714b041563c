// Pieces of a lot on one density axis: interval, shape and number each, the mean with its U,
// and the grade's limits where there are any. Drawn by hand; a table stands beside it.
//   {pieces: [{shape, age?, density, low, high, name?, note?, excluded?}], mean: null | {density, low, high,
//    text, count, name?, note?}, limits: null | {lower, upper, target, guard}}   (all decimals as text)
import { element, onResize, round as r, svg, textScale } from "./dom.js";
import { redraw } from "./patch.js";
import { text } from "./tube/axes.js";
import { drawPiece } from "./tube/pieces.js";
import { decimal, word } from "./words.js";

const STEPS = [0.00005, 0.0001, 0.0002, 0.0005, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05];
const ROW = 40;

function numbers(...values) {
  return values.filter((value) => value !== null && value !== undefined && value !== "").map(Number);
}

/** The span: limits or data, whichever is wider, with a margin; never from zero. */
export function axisSpan({ pieces, mean, limits }) {
  const all = [
    ...pieces.flatMap((piece) => numbers(piece.density, piece.low, piece.high)),
    ...(mean ? numbers(mean.density, mean.low, mean.high) : []),
    ...(limits ? numbers(limits.lower, limits.upper, limits.target) : []),
  ];
  if (!all.length) return null;
  const [low, high] = [Math.min(...all), Math.max(...all)];
  const margin = Math.max((high - low) * 0.12, 0.0001);
  return { low: low - margin, high: high + margin };
}

/** Round ticks: numbered at `step`, fine ones between. */
export function axisTicks({ low, high }, most) {
  const step = STEPS.find((size) => (high - low) / size <= most) ?? 0.1;
  const places = Math.max(3, Math.ceil(-Math.log10(step) - 1e-9));
  const fine = step / 5;
  const ticks = [];
  for (let i = Math.ceil(low / fine - 1e-6); i * fine <= high; i += 1) {
    ticks.push({ value: i * fine, label: i % 5 === 0 ? (i * fine).toFixed(places) : null });
  }
  return ticks;
}

function hatch(defs) {
  const id = `hatch-${Math.random().toString(36).slice(2)}`;
  defs.append(svg("pattern", { id, width: 8, height: 8, patternUnits: "userSpaceOnUse" },
    svg("rect", { width: 8, height: 8, class: "axis-out" }),
    svg("path", { d: "M-2 -2L10 10M-2 6L2 10M6 -2L10 2", class: "axis-hatch" })));
  return id;
}

function drawLimits({ limits }, { x, left, right, top, bottom, narrow, em }, defs) {
  if (!limits) return [];
  const fill = `url(#${hatch(defs)})`;
  const nodes = [];
  for (const [side, value] of [["lower", limits.lower], ["upper", limits.upper]]) {
    if (!value) continue;
    const at = x(Number(value));
    const box = side === "lower" ? [left, at] : [at, right];
    nodes.push(svg("rect", { fill, x: r(box[0]), y: r(top), width: r(Math.max(0, box[1] - box[0])),
      height: r(bottom - top) }),
    svg("path", { class: "axis-limit", d: `M${r(at)} ${r(top - 5 * em)}V${r(bottom)}` }),
    text(word(`axis.${side}`, { value: decimal(value) }), at, top - 15 * em,
      `tube-label ${side === "lower" ? "tube-start" : "tube-end"}`, em));
  }
  if (limits.target) {
    const at = x(Number(limits.target));
    nodes.push(svg("path", { class: "axis-target", d: `M${r(at)} ${r(top)}V${r(bottom)}` }),
      text(word("axis.target", { value: decimal(limits.target) }), at, narrow ? top - 1 * em : top - 15 * em,
        "tube-number tube-middle tube-halo", em));
  }
  return nodes;
}

function whisker(low, high, y) {
  return `M${r(low)} ${r(y)}H${r(high)}M${r(low)} ${r(y - 5)}v10M${r(high)} ${r(y - 5)}v10`;
}

/** What stands left of the axis: the piece's name, beneath it height and time. */
function rowName({ name, note }, y, { named, em }) {
  if (!named || !name) return [];
  const line = note ? 8 * em : 0;
  return [text(name, 8 * em, y - line, "tube-label", em),
    note ? text(note, 8 * em, y + line, "tube-number", em) : null];
}

function drawRow(piece, y, { x, right, named, em }) {
  const at = x(Number(piece.density));
  const [low, high] = piece.low ? [x(Number(piece.low)), x(Number(piece.high))] : [at, at];
  const fits = high + 12 * em + 70 * em < right;
  const kind = piece.excluded ? "older" : piece.age ?? "today";
  return [
    piece.low ? svg("path", { class: "axis-whisker", d: whisker(low, high, y) }) : null,
    ...rowName(piece, y, { named, em }),
    drawPiece(piece.shape, at, y, 14 * em, kind),
    text(decimal(piece.density), fits ? high + 12 * em : low - 12 * em, y,
      `axis-value tube-halo ${fits ? "tube-start" : "tube-end"}`, em),
  ];
}

function drawMean(mean, y, { x, left, right, named, narrow, em }) {
  const [low, high, at] = [mean.low, mean.high, mean.density].map((value) => x(Number(value)));
  const [textX, textY, anchor] = meanPlace(low, high, y, { left, right, narrow, em });
  return [
    ...rowName(mean, y, { named, em }),
    svg("rect", { class: "axis-mean-band", x: r(low), y: r(y - 9 * em), width: r(high - low),
      height: r(18 * em) }),
    svg("path", { class: "axis-mean", d: `M${r(at)} ${r(y - 14 * em)}v${r(28 * em)}` }),
    text(mean.text, textX, textY, `axis-mean-value tube-halo tube-${anchor}`, em),
  ];
}

/** Right of the band, left of it, or beneath it where neither side has room. */
function meanPlace(low, high, y, { left, right, narrow, em }) {
  const long = 160 * em;
  if (high + long < right) return [high + 12 * em, y + em, "start"];
  if (!narrow && low - long > left) return [low - 12 * em, y + em, "end"];
  const middle = Math.min(Math.max((low + high) / 2, left + long / 2), right - long / 2);
  return [middle, y + 26 * em, "middle"];
}

function drawAxis(span, { x, left, right, bottom, em }) {
  const ticks = axisTicks(span, Math.max(3, (right - left) / (104 * em)));
  const marks = ticks.map((tick) => `M${r(x(tick.value))} ${r(bottom)}v${tick.label ? 8 : 4}`).join("");
  const labelled = ticks.filter((tick) => tick.label && x(tick.value) < right - 118 * em);
  return [
    svg("path", { class: "tube-axis", d: `M${r(left)} ${r(bottom)}H${r(right)}${marks}` }),
    ...labelled.map((tick) => text(decimal(tick.label), x(tick.value), bottom + 19 * em,
      "tube-number tube-middle", em)),
    text(word("axis.unit"), right, bottom + 19 * em, "tube-number tube-end", em),
  ];
}

export function drawDensities(facts, { width, em = 1 }) {
  const span = axisSpan(facts);
  if (!span) return null;
  const rows = facts.pieces.length;
  const top = 32 * em;
  const bottom = top + (rows * ROW + (facts.mean ? 64 : 0) + 14) * em;
  const named = width >= 560 * em && facts.pieces.some((piece) => piece.name);
  const [left, right] = [(named ? 176 : 8) * em, width - 8 * em];
  const x = (value) => left + ((value - span.low) / (span.high - span.low)) * (right - left);
  const place = { x, left, right, top, bottom, named, narrow: width < 460 * em, em };
  const height = bottom + 32 * em;
  const defs = svg("defs");
  const nodes = [...drawLimits(facts, place, defs), ...drawAxis(span, place)];
  facts.pieces.forEach((piece, index) =>
    nodes.push(...drawRow(piece, top + (index * ROW + 26) * em, place)));
  if (facts.mean) nodes.push(...drawMean(facts.mean, top + (rows * ROW + 32) * em, place));
  const name = facts.mean ? "axis.sentence" : "axis.sentence_no_mean";
  return svg("svg", { class: "tube density-axis", role: "img", width: r(width), height: r(height),
    viewBox: `0 0 ${r(width)} ${r(height)}`,
    "aria-label": word(name, { pieces: rows, mean: decimal(facts.mean?.density ?? "") }) },
  defs, ...nodes.filter(Boolean));
}

/** Keep a figure drawn with these facts at its own width. */
export function showDensities(figure, facts) {
  const draw = () => {
    const width = figure.clientWidth;
    if (width < 120) return;
    const drawing = drawDensities(facts, { width, em: textScale() });
    figure.replaceChildren(drawing ?? element("p", { class: "quiet", text: word("axis.none") }));
  };
  redraw(figure, facts, draw);
  figure.stopDrawing?.();
  figure.stopDrawing = onResize(figure, draw);
}
