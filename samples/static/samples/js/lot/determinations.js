// One determination: its number with U and k, both figures, its state, and the acts on it.
import { dayAndTime } from "../../../labsite/js/clock.js";
import { element } from "../../../labsite/js/dom.js";
import { word } from "../../../labsite/js/words.js";

function textOf(determination) {
  const { density_g_cm3: density, expanded_uncertainty_g_cm3: spread } = determination.reported ?? {};
  return density ? `${density} ± ${spread ?? "–"}` : "–";
}

export function headline(code, determination) {
  if (!determination || determination.masked) return word("lot.headline.none", { code });
  const status = word(`lot.status.${determination.status}`);
  return word("lot.headline", { code, text: `${textOf(determination)} g/cm³`, status });
}

function shortened(figure, places = 5) {
  return figure === null || figure === undefined ? "–" : String(figure).slice(0, places + 2);
}

function people(determination) {
  const told = [word("lot.prepared", {
    name: determination.prepared_by.name, time: dayAndTime(determination.prepared_at) })];
  if (determination.released_by) {
    told.push(word("lot.released", {
      name: determination.released_by.name, time: dayAndTime(determination.released_at) }));
  }
  return told.join("; ");
}

function form(determination, verb, label, ...fields) {
  return element("form", { class: "form", "data-act-on": determination.id, "data-verb": verb, novalidate: true },
    ...fields,
    element("button", { type: "submit", text: label,
      class: verb === "amend" ? "button" : "button button-act" }));
}

function field(name, key, id) {
  return element("div", { class: "field" },
    element("label", { for: id, text: word(key) }),
    element("textarea", { id, name, rows: "2" }));
}

function acts(determination, { page, own }) {
  const { status, id } = determination;
  if (status === "draft" && page.may.measure) return [form(determination, "ready", word("lot.ready"))];
  if (status === "ready" && page.may.release) {
    if (own) return [element("p", { class: "second", text: word("lot.own") })];
    const note = determination.findings.length ? [field("note", "lot.note", `note-${id}`)] : [];
    const label = word("lot.release", { text: textOf(determination), name: page.person_name });
    return [form(determination, "release", label, ...note)];
  }
  if (status === "released" && page.may.release) {
    return [element("details", { class: "act" },
      element("summary", {}, element("b", { text: word("lot.amend_title") })),
      form(determination, "amend", word("lot.amend"), field("reason", "lot.why", `why-${id}`)))];
  }
  return [];
}

export function determinationRow(determination, told) {
  const { status } = determination;
  const resultUrl = told.page.result_url.replace(told.page.any, determination.id);
  const masked = determination.masked;
  return element("div", { class: "lot-determination" },
    element("p", {},
      element("span", { class: `lot-number result result-${status}`, text: masked ? "–" : textOf(determination) }),
      " ", element("span", { class: "second", text: "g/cm³" })),
    element("p", {}, element("b", { text: word(`lot.status.${status}`) }), ", ",
      word("lot.issue", { number: determination.number, issue: determination.issue })),
    masked ? null : element("p", { text: word("lot.both", {
      bracketing: determination.shown?.bracketing_g_cm3 ?? "–",
      curve: determination.shown?.curve_g_cm3 ?? "–" }) }),
    masked ? null : element("p", { class: "second", text: word("lot.k", {
      k: shortened(determination.coverage_factor, 2), count: determination.specimens_counted }) }),
    masked ? null : element("p", { class: "second", text: word("lot.spread", {
      spread: shortened(determination.spread_g_cm3), limit: shortened(told.spreadLimit) }) }),
    masked ? null : element("p", { class: "second", text:
      word("lot.decision", { word: determination.decision.word }) }),
    element("p", { class: "second", text: people(determination) }),
    determination.to_be_amended_because ? element("p", { class: "banner", text:
      word("lot.to_be_amended", { why: determination.to_be_amended_because }) }) : null,
    determination.amend_reason ? element("p", { class: "second", text:
      word("lot.amends", { why: determination.amend_reason }) }) : null,
    element("p", {}, element("a", { href: resultUrl, text: word("lot.result") })),
    ...(masked ? [] : acts(determination, told)));
}
