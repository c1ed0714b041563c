// One piece of a lot with all its readings, spoiled and replaced ones too.
import { dayAndTime } from "../../../labsite/js/clock.js";
import { element, mark } from "../../../labsite/js/dom.js";
import { word } from "../../../labsite/js/words.js";

function isOld(reading) {
  return Boolean(reading.replaced_at || reading.withdrawn_at);
}

function standing(specimen) {
  return specimen.readings.filter((reading) => !isOld(reading));
}

/** Pieces that still want a reading and that somebody else dropped. */
export function unreadOf(lot, person) {
  return lot.specimens.filter((specimen) => !specimen.removed_at && !standing(specimen).length
    && (specimen.taken_over_by ?? specimen.dropped_by).id !== person);
}

function heightOf(reading) {
  return reading.height_mm === null ? "" : ` ${reading.height_mm.replace(/0$/, "")} mm`;
}

function densityOf(result) {
  if (!result) return "";
  if (result.outcome === "denser" || result.outcome === "lighter") {
    return word(`lot.${result.outcome}`, { float: result.bound_float });
  }
  const { bracketing_g_cm3: bracketing, curve_g_cm3: curve } = result.shown ?? {};
  if (!bracketing) return result.reason?.message ?? "";
  return word("lot.both", { bracketing, curve: curve ?? "–" });
}

function why(reading) {
  if (reading.withdrawn_at) return word("lot.withdrawn", { why: reading.withdraw_reason });
  if (reading.amend_reason) return word("lot.amends", { why: reading.amend_reason });
  return "";
}

function readingRow(reading, page) {
  const outcome = reading.outcome ? word(`outcome.${reading.outcome}`) : "–";
  const line = element("li", { class: `lot-reading${isOld(reading) ? " is-old" : ""}` },
    element("b", { text: `${outcome}${heightOf(reading)}` }), " ",
    element("span", { class: "second", text: word("lot.read", {
      time: dayAndTime(reading.read_at), name: reading.read_by?.name ?? "" }) }),
    element("span", { class: "second", text: densityOf(reading.result) }),
    element("span", { class: "second", text: why(reading) }),
    ...(reading.result?.findings ?? []).map((finding) =>
      element("span", { class: "second", text: finding.text ?? finding.message })));
  if (page.may.measure && !isOld(reading) && !reading.masked) {
    line.append(element("button", { type: "button", class: "link-button",
      "data-amend-reading": reading.id, text: word("lot.amend_reading") }));
  }
  return line;
}

function counting(specimen, page) {
  const measured = standing(specimen).some((reading) => reading.result?.outcome === "measured");
  if (!page.may.measure || !measured) return null;
  return element("div", {},
    element("label", { class: "tick" },
      element("input", { type: "checkbox", checked: true, value: specimen.id, "data-counts": true }),
      element("span", { text: word("lot.count") })),
    element("div", { class: "field", "data-aside": true, hidden: true },
      element("label", { for: `aside-${specimen.id}`, text: word("lot.aside") }),
      element("input", { id: `aside-${specimen.id}`, name: `aside-${specimen.id}`, autocomplete: "off" })));
}

export function pieceRow(specimen, page) {
  return element("li", {},
    mark(`shape-${specimen.shape}`, "piece-mark"),
    element("div", {},
      element("b", { text: `${specimen.number}, ${word(`shape.${specimen.shape}`)}` }),
      element("div", { class: "second", text: word("lot.in_column", { column: specimen.column.name }) }),
      element("div", { class: "second", text: word("lot.dropped", {
        time: dayAndTime(specimen.dropped_at), name: specimen.dropped_by.name }) }),
      counting(specimen, page)),
    element("ul", {}, ...(specimen.readings.length
      ? specimen.readings.map((reading) => readingRow(reading, page))
      : [element("li", { class: "second", text: word("lot.unread") })])));
}
