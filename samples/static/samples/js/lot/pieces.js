// One piece of a lot with all its readings, spoiled and replaced ones too.
import { dayAndTime } from "../../../labsite/js/clock.js";
import { element, mark } from "../../../labsite/js/dom.js";
import { decimal, word } from "../../../labsite/js/words.js";

function isOld(reading) {
  return Boolean(reading.replaced_at || reading.withdrawn_at);
}

export function standing(specimen) {
  return specimen.readings.filter((reading) => !isOld(reading));
}

/** Pieces that still want a reading and that are somebody else's to read. */
export function unreadOf(lot, person) {
  return lot.specimens.filter((specimen) => lot.unread.includes(specimen.id)
    && (specimen.taken_over_by ?? specimen.dropped_by).id !== person);
}

/** Heights are kept with two decimals; the last one shows only where the scale has it. */
export function heightOf(reading) {
  return reading.height_mm === null ? "" : `${decimal(reading.height_mm.replace(/0$/, ""))}\u00a0mm`;
}

function densityOf(result) {
  if (!result) return "";
  if (result.outcome === "denser" || result.outcome === "lighter") {
    return word(`lot.${result.outcome}`, { float: result.bound_float });
  }
  const { bracketing_g_cm3: bracketing, curve_g_cm3: curve } = result.shown ?? {};
  if (!bracketing) return "";
  return word("lot.both", { bracketing: decimal(bracketing), curve: curve ? decimal(curve) : "–" });
}

function why(reading) {
  const told = [];
  if (reading.amend_reason) told.push(word("lot.amends", { why: reading.amend_reason }));
  if (reading.replaced_at) told.push(word("lot.replaced"));
  if (reading.withdrawn_at) told.push(word("lot.withdrawn", { why: reading.withdraw_reason }));
  if (reading.late_reason) told.push(word("lot.late", { why: reading.late_reason }));
  if (reading.note) told.push(reading.note);
  return told;
}

function whoAndWhen(reading) {
  const names = { time: dayAndTime(reading.read_at), name: reading.read_by?.name ?? "",
    typist: reading.entered_by?.name ?? "" };
  return word(reading.entered_by ? "lot.read_typed" : "lot.read", names);
}

function mayAmend(reading, page) {
  if (!page.may.measure || isOld(reading) || reading.masked) return false;
  return page.may.release || reading.read_by?.id === page.person;
}

function amendButton(reading, specimen) {
  return element("button", { type: "button", class: "link-button", "data-amend-reading": reading.id,
    "aria-label": word("lot.amend_reading_of", { number: specimen.number, value: heightOf(reading) }),
    text: word("lot.amend_reading") });
}

function readingRow(reading, specimen, page) {
  const outcome = reading.masked ? word("lot.hidden") : word(`outcome.${reading.outcome}`);
  const lines = [whoAndWhen(reading), densityOf(reading.result), ...why(reading),
    ...(reading.result?.findings ?? []).map((finding) => finding.text)];
  return element("li", { class: `lot-reading${isOld(reading) ? " is-old" : ""}` },
    element("b", { text: `${outcome} ${heightOf(reading)}`.trim() }),
    ...lines.filter(Boolean).map((text) => element("span", { class: "second", text })),
    mayAmend(reading, page) ? amendButton(reading, specimen) : null);
}

/** Whether a piece counts, preset as in the determination that stands. */
function counting(specimen, page, axisPiece) {
  if (!page.may.measure || !axisPiece) return null;
  const { excluded, set_aside_reason: reason } = axisPiece;
  const id = `aside-${specimen.id}`;
  return element("div", {},
    element("label", { class: "tick" },
      element("input", { type: "checkbox", checked: !excluded, value: specimen.id, "data-counts": true }),
      element("span", { text: word("lot.count", { number: specimen.number }) })),
    element("div", { class: "field", "data-aside": true, hidden: !excluded },
      element("label", { for: id, text: word("lot.aside") }),
      element("input", { id, name: id, autocomplete: "off", value: reason ?? "" })));
}

function places(specimen) {
  const names = { time: dayAndTime(specimen.dropped_at), name: specimen.dropped_by.name };
  const lines = [word("lot.in_column", { column: specimen.column.name }), word("lot.dropped", names)];
  if (specimen.taken_over_by) lines.push(word("lot.taken_over", { name: specimen.taken_over_by.name }));
  if (specimen.override_reason) lines.push(word("lot.override", { why: specimen.override_reason }));
  if (specimen.removed_at) lines.push(word("lot.removed", { time: dayAndTime(specimen.removed_at) }));
  return lines;
}

export function pieceRow(specimen, page, axisPiece) {
  return element("li", {},
    mark(`shape-${specimen.shape}`, `piece-mark piece piece-${axisPiece?.age ?? "today"}`),
    element("div", {},
      element("b", { text: `${specimen.number}, ${word(`shape.${specimen.shape}`)}` }),
      ...places(specimen).map((text) => element("div", { class: "second", text })),
      counting(specimen, page, axisPiece)),
    element("ul", {}, ...(specimen.readings.length
      ? specimen.readings.map((reading) => readingRow(reading, specimen, page))
      : [element("li", { class: "second", text: word("lot.unread") })])));
}
