// The drawn facts as tables.
import { element, mark } from "../../../labsite/js/dom.js";
import { clockTime } from "../../../labsite/js/clock.js";
import { decimal, plain, word } from "../../../labsite/js/words.js";

function signed(figure) {
  if (figure === null || figure === undefined) return "–";
  return Number(figure) > 0 ? `+${decimal(figure)}` : decimal(figure);
}

function number(text, label = null) {
  return element("td", { class: "num", "data-label": label, text });
}

/** The floats of a set, lightest first; those without a height at the end with their reason. */
export function setRows(set) {
  if (!set) return [];
  const used = set.calibration?.shown.floats ?? [];
  const names = new Set(used.map((float) => float.label));
  const others = set.heights.filter((row) => !names.has(row.label));
  return [...used.map((float) => element("tr", {}, element("th", { scope: "row", text: float.label }),
    number(decimal(float.density_g_cm3)), number(decimal(float.height_mm)),
    number(signed(float.residual_mm)), number(signed(float.residual_g_cm3)))),
  ...others.map((row) => element("tr", {}, element("th", { scope: "row", text: row.label }),
    number("–"), number(row.height_mm ? decimal(plain(row.height_mm)) : "–"),
    element("td", { class: "second", colspan: "2", text: row.missing_reason })))];
}

function lotCell(piece) {
  return element("th", { scope: "row", text: piece.lot });
}

function shapeCell(shape, kind) {
  return element("td", {}, element("span", { class: "state column-shape" },
    mark(`shape-${shape}`, `piece-mark piece piece-${kind}`), element("span", { text: word(`shape.${shape}`) })));
}

function waitingRow(piece) {
  const state = piece.state === "ready" ? word("column.ready")
    : word("column.falling", { time: clockTime(piece.ready_at) });
  return element("tr", {}, lotCell(piece), shapeCell(piece.shape, piece.state === "ready" ? "today" : "falling"),
    element("td", { text: state }), number("–", word("unit.height")), number("–", word("unit.density")));
}

function readRow(piece) {
  const state = piece.masked ? word("column.masked")
    : `${word(`age.${piece.age}`)}${piece.outcome === "at_rest" ? "" : `, ${word(`outcome.${piece.outcome}`)}`}`;
  return element("tr", {}, lotCell(piece), shapeCell(piece.shape, piece.age),
    element("td", { text: state }), number(piece.height_mm ? decimal(piece.height_mm) : "–", word("unit.height")),
    number(piece.density_g_cm3 ? decimal(piece.density_g_cm3) : "–", word("unit.density")));
}

/** Pieces above the mouth first, then those read, from the top down. */
export function pieceRows({ tray, occupants }) {
  const fromTop = [...occupants].sort((a, b) => (b.above_bottom_mm ?? -1) - (a.above_bottom_mm ?? -1));
  return [...tray.map(waitingRow), ...fromTop.map(readRow)];
}
