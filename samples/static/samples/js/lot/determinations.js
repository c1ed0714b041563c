// One determination: its number with U and k, both figures, its state, and the acts on it.
import { dayAndTime } from "../../../labsite/js/clock.js";
import { element } from "../../../labsite/js/dom.js";
import { decimal, word } from "../../../labsite/js/words.js";

export function textOf(determination) {
  const { density_g_cm3: density, expanded_uncertainty_g_cm3: spread } = determination.reported ?? {};
  return density ? `${decimal(density)}\u00a0±\u00a0${decimal(spread)}` : "–";
}

/** The sentence above the page: what is known of the lot, or what it waits for. */
export function headline(code, lot) {
  const [present] = lot.determinations;
  if (lot.masked) return word("lot.headline.masked", { code });
  if (!present) return word("lot.headline.none", { code });
  return word(`lot.headline.${present.status}`, { code, text: `${textOf(present)} g/cm³` });
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

function field(name, key, id, optional = false) {
  return element("div", { class: "field" },
    element("label", { for: id }, word(key), " ",
      optional ? element("span", { class: "optional", text: word("lot.optional") }) : null),
    element("textarea", { id, name, rows: "2" }));
}

function releaseForm(determination, { page, barred }) {
  if (barred) return [element("p", { class: "second", text: barred })];
  const asked = determination.findings.some((finding) => finding.level === "look");
  const note = determination.findings.length
    ? [field("note", "lot.note", `note-${determination.id}`, !asked)] : [];
  const label = word("lot.release", { text: textOf(determination), name: page.person_name });
  return [form(determination, "release", label, ...note)];
}

function readyForm(determination) {
  const stops = determination.findings.filter((finding) => finding.level === "stop");
  if (stops.length) return [element("p", { class: "second", text: word("lot.not_ready") })];
  return [form(determination, "ready", word("lot.ready"))];
}

function amendForm(determination) {
  return [element("details", { class: "act" },
    element("summary", {}, element("h3", { text: word("lot.amend_title") })),
    form(determination, "amend", word("lot.amend"),
      field("reason", "lot.why", `why-${determination.id}`)))];
}

function acts(determination, told) {
  const { status } = determination;
  if (status === "draft" && told.page.may.measure) return readyForm(determination);
  if (status === "ready" && told.page.may.release) return releaseForm(determination, told);
  if (status === "released" && told.page.may.release) return amendForm(determination);
  return [];
}

function figure(determination, name) {
  const reported = determination.figure === name;
  const value = determination.shown?.[`${name}_g_cm3`];
  return element("li", { class: reported ? "lot-figure-reported" : "" },
    element("b", { text: value ? decimal(value) : "–" }),
    word(`lot.figure.${name}`), " ",
    reported ? word("lot.figure.reported") : word("lot.figure.second"));
}

function fact(key, value) {
  return [element("dt", { text: word(key) }), element("dd", { text: value })];
}

function factsOf(determination) {
  const { spread_g_cm3: spread, spread_limit_g_cm3: limit } = determination.shown ?? {};
  const rows = [
    ...fact("lot.fact.decision", determination.decision.word),
    ...fact("lot.fact.spread", spread
      ? word("lot.spread", { spread: decimal(spread), limit: decimal(limit) }) : "–"),
    ...fact("lot.fact.people", people(determination)),
  ];
  for (const [key, value] of [["lot.fact.repeat", determination.repeat_because],
    ["lot.fact.amends", determination.amend_reason], ["lot.fact.note", determination.release_note]]) {
    if (value) rows.push(...fact(key, value));
  }
  return element("dl", { class: "facts" }, ...rows);
}

function number(determination) {
  return element("p", {},
    element("span", { class: `lot-number result result-${determination.status}`, text: textOf(determination) }),
    " ", element("span", { class: "second", text: word("lot.k", {
      k: decimal(determination.shown?.coverage_factor ?? "–"), count: determination.specimens_counted }) }));
}

export function determinationRow(determination, told) {
  const { status } = determination;
  const resultUrl = told.page.result_url?.replace(told.page.any, determination.id);
  const state = element("p", {}, element("b", { text: word(`lot.status.${status}`) }), ", ",
    word("lot.issue", { number: determination.number, issue: determination.issue }));
  if (determination.masked) return element("div", { class: "lot-determination" }, state);
  return element("div", { class: "lot-determination" },
    number(determination), state,
    element("ul", { class: "figures" }, figure(determination, "bracketing"), figure(determination, "curve")),
    determination.to_be_amended_because ? element("p", { class: "banner banner-look", text:
      word("lot.to_be_amended", { why: determination.to_be_amended_because }) }) : null,
    factsOf(determination),
    resultUrl ? element("p", {}, element("a", { href: resultUrl, text: word("lot.result") })) : null,
    ...acts(determination, told));
}

/** Issues that a newer one replaced: there, but folded. */
export function olderIssues(issues, told) {
  if (!issues.length) return null;
  return element("details", { class: "act" },
    element("summary", {}, element("h3", { text: word("lot.older", { count: issues.length }) })),
    ...issues.map((each) => determinationRow(each, told)));
}
