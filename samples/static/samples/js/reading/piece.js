// The piece to be read and its column without densities.
import { clockTime, now, span } from "../../../labsite/js/clock.js";
import { element, mark } from "../../../labsite/js/dom.js";
import { redraw, setText } from "../../../labsite/js/patch.js";
import { showTube } from "../../../labsite/js/tube.js";
import { decimal, word } from "../../../labsite/js/words.js";

/** The scene as the drawn column takes it: pieces as outlines, shades without densities. */
function drawn(column) {
  return {
    ...column,
    state: "open",
    calibration: column.shades.length ? { profile: column.shades } : null,
    occupants: column.occupants.map((piece) => ({ ...piece, lot: "", lot_tail: "",
      density_g_cm3: null, masked: false })),
    tray: [],
    flags: [],
  };
}

function sinceLine(piece) {
  const facts = { time: clockTime(piece.dropped_at),
    span: span(now() - Date.parse(piece.dropped_at)) };
  const since = word(piece.second_look ? "read.second_look" : "read.dropped", facts);
  return piece.is_mine ? since : `${since}, ${word("read.not_mine", { name: piece.dropped_by })}`;
}

function showScale(root, scale) {
  setText(root.querySelector("[data-scale]"),
    word(`read.origin_${scale.origin}`, { division: decimal(scale.division_mm) }));
  root.querySelector("[data-step-up]").textContent = `+ ${decimal(scale.division_mm)}`;
  root.querySelector("[data-step-down]").textContent = `− ${decimal(scale.division_mm)}`;
}

export function showPiece(root, scene) {
  const { specimen, column, lot_read: read } = scene;
  const shape = word(`shape.${specimen.shape}`);
  setText(root.querySelector("[data-title]"), word("read.title", { shape, lot: specimen.lot.code }));
  setText(root.querySelector("[data-since]"), sinceLine(specimen));
  setText(root.querySelector("[data-count]"), word("read.lot_read", read));
  setText(root.querySelector("[data-column]"), column.name);
  redraw(root.querySelector("[data-shape]"), specimen.shape, (place) => place.replaceChildren(
    mark(`shape-${specimen.shape}`, "piece-mark piece piece-today")));
  redraw(root.querySelector("[data-known]"), remarksOn(scene), drawRemarks);
  showScale(root, column.scale);
  showTube(root.querySelector("[data-tube]"), drawn(column), "read");
}

/** What a person should know before typing: it still falls, it was read before, no calibration. */
function remarksOn({ specimen, column, refusal }) {
  if (specimen.is_removed) return [["stop", word("read.removed")]];
  const remarks = [];
  if (refusal) remarks.push(["look", refusal.message]);
  else if (!column.floats.length) remarks.push(["look", word("read.no_floats")]);
  if (!specimen.is_ready) {
    remarks.push(["look", word("read.falling", { time: clockTime(specimen.ready_at) })]);
  }
  if (!specimen.is_unread) remarks.push(["know", word("read.read_before")]);
  return remarks;
}

function drawRemarks(place, remarks) {
  place.replaceChildren(...remarks.map(([level, text]) => element("p", { class: "flag flag-line" },
    mark(`flag-${level}`, `mark-${level}`), element("span", { text }))));
}
