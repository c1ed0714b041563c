// A float set: temperature, then each float's height, lightest first. The drawn column fills with
// what is typed, so that two swapped lines look wrong at once. Nothing of an earlier set shows.
import { create, get } from "../../labsite/js/api.js";
import { clockTime, now } from "../../labsite/js/clock.js";
import { element, mark, on, readJson } from "../../labsite/js/dom.js";
import { draftOf } from "../../labsite/js/drafts.js";
import { Keypad, NOTHING } from "../../labsite/js/keypad.js";
import { showTube } from "../../labsite/js/tube.js";
import { word } from "../../labsite/js/words.js";
import { showResult } from "./floatset/result.js";
import { aboveBottom, doubtAbout, drawRow, isDone, isMissing, rowsOf, valueOf }
  from "./floatset/rows.js";
import { loadTouched } from "./floatset/touched.js";

const facts = readJson("facts");
const page = document.getElementById("content");
const at = (name) => page.querySelector(`[data-${name}]`);
const root = at("set");
const why = at("why");
const draft = draftOf(facts.person, `set:${facts.amends ?? facts.fill}`);
const keypad = new Keypad(at("keypad"), { display: at("typed"),
  isActive: () => root.dataset.phase === "typing" && !why.open });

let sheet = null;
let rows = [];
let active = 0;
let errors = {};
let started = null;
let sending = false;
let switching = false;

/* Drawing */

function drawn() {
  const floats = rows.filter((row) => row.kind === "float" && row.density_g_cm3).map((row) => {
    const value = valueOf(row);
    const fits = value !== null && Number(value) <= Number(sheet.scale.length_mm);
    return { id: row.id, label: row.label, density_g_cm3: row.density_g_cm3,
      height_mm: fits ? value : null, above_bottom_mm: fits ? aboveBottom(value, sheet.scale) : null };
  });
  return { ...sheet.column, state: "open", state_word: "", scale: sheet.scale, calibration: null,
    floats, occupants: [], tray: [], flags: [] };
}

function showRows(shown = "") {
  const list = at("rows");
  while (list.children.length < rows.length) list.append(element("li"));
  rows.forEach((row, index) => drawRow(list.children[index], row,
    { active: index === active, shown, error: errors[row.id] }));
}

function showActs() {
  const left = rows.filter(isMissing).length;
  const read = rows.filter((row) => row.kind === "float" && isDone(row)).length;
  const all = rows.filter((row) => row.kind === "float" && !row.is_quarantined).length;
  at("count").textContent = word("set.count", { count: read, all });
  at("started").textContent = started ? word("set.started", { time: clockTime(started) }) : "";
  const missing = whatIsMissing();
  at("save").setAttribute("aria-disabled", String(Boolean(missing)));
  at("save").classList.toggle("button-act", !left);
  at("next").classList.toggle("button-act", left > 0);
  const words = facts.amends ? "set.save_amended" : "set.save";
  at("save-word").textContent = word(sending ? "set.saving" : words);
  at("save-note").textContent = left ? word("set.after_last") : "";
  at("next").textContent = word(left ? stepWord() : "set.last");
}

function stepWord() {
  return rows[active].kind === "temperature" ? "set.next_height" : "set.next";
}

function show(shown) {
  const row = rows[active];
  at("now").textContent = word("set.now", { name: row.label });
  at("unit").textContent = row.kind === "float" ? word("unit.height") : word("set.temperature_unit");
  at("not-there").hidden = row.kind !== "float";
  showRows(shown);
  showActs();
  showTube(at("tube"), drawn(), "set");
}

function notice(level, text, ...more) {
  at("notice").replaceChildren(element("div", { class: `banner banner-${level}` },
    mark(`flag-${level}`, `mark-${level}`), element("p", { text }), ...more));
}

function quiet() {
  at("notice").replaceChildren();
}

/* Moving and typing */

function turnTo(index) {
  active = index;
  switching = true;
  keypad.setDivision(rows[active].division);
  keypad.become(rows[active].typed);
  switching = false;
  show();
  at("rows").children[active]?.scrollIntoView({ block: "nearest" });
}

function next() {
  const after = rows.findIndex((row, index) => index > active && isMissing(row));
  const first = rows.findIndex(isMissing);
  if (after >= 0) turnTo(after);
  else if (first >= 0 && first !== active) turnTo(first);
  else if (first < 0) at("save").focus();
}

function keepDraft() {
  const typed = rows.map((row) => [row.id, { typed: row.typed, value: row.value, reason: row.reason }]);
  draft.keep({ started, rows: Object.fromEntries(typed), thermometer: at("thermometer").querySelector("select").value });
}

function typed({ detail }) {
  if (switching || !rows.length) return;
  const row = rows[active];
  row.typed = keypad.typed;
  row.value = detail.value;
  if (row.value !== null) row.reason = "";
  else if (row.before?.missing_reason) row.reason = row.before.missing_reason;
  started ??= now().toISOString();
  delete errors[row.id];
  const doubt = doubtAbout(row, sheet.scale);
  if (doubt) errors[row.id] = doubt;
  quiet();
  show(detail.shown);
  keepDraft();
}

function askWhy() {
  const row = rows[active];
  at("why-title").textContent = row.label;
  why.querySelector("input").value = row.reason;
  why.showModal();
}

function keepReason() {
  const reason = why.querySelector("input").value.trim();
  if (!reason) return;
  Object.assign(rows[active], { reason, value: null, typed: NOTHING });
  delete errors[rows[active].id];
  keepDraft();
  turnTo(active);
  next();
}

/* Saving */

function whatIsMissing() {
  if (sending) return null;
  if (!valueOf(rows[0])) return word("set.no_temperature");
  const left = rows.filter(isMissing).length;
  if (left) return word("set.missing", { count: left });
  if (!facts.amends) return null;
  const reasoned = page.querySelector("#reason").value.trim();
  const differs = rows.some((row) => row.value !== null || (row.before && row.reason !== row.before.missing_reason));
  if (!differs) return word("set.no_change");
  return reasoned ? null : word("set.no_reason");
}

function heights() {
  return rows.filter((row) => row.kind === "float" && isDone(row)).map((row) => {
    const value = valueOf(row);
    return value === null ? { calibration_float: row.id, missing_reason: row.reason }
      : { calibration_float: row.id, height_mm: value };
  });
}

function body() {
  const temperature = valueOf(rows[0]);
  if (facts.amends) {
    const reason = page.querySelector("#reason").value.trim();
    return { bath_temperature_c: temperature, heights: heights(), reason };
  }
  const thermometer = at("thermometer").querySelector("select").value;
  return { fill: facts.fill, bath_temperature_c: temperature, heights: heights(),
    ...(thermometer ? { thermometer } : {}) };
}

async function save() {
  if (sending) return;
  const missing = whatIsMissing();
  if (missing) {
    notice("look", missing);
    return;
  }
  sending = true;
  errors = {};
  showActs();
  const url = facts.amends ? `/api/v1/float-sets/${facts.amends}/amend/` : "/api/v1/float-sets/";
  try {
    const { data } = await create(url, body());
    draft.forget();
    saved(data);
  } catch (error) {
    refused(error);
  } finally {
    sending = false;
    if (root.dataset.phase === "typing") show();
  }
}

function saved(set) {
  root.dataset.phase = "saved";
  root.hidden = true;
  at("set-acts").hidden = true;
  at("amend").setAttribute("href", readJson("amend-url").replace(/0{8}-[0-]+/, set.id));
  showResult(at("result"), set, readJson("figure-names"));
}

function refused(error) {
  const sent = heights();
  for (const [name, texts] of Object.entries(error.fields ?? {})) {
    const place = /^heights[[.](\d+)/.exec(name);
    const id = place ? sent[Number(place[1])]?.calibration_float : null;
    if (id) errors[id] = [texts].flat().join(" ");
    else if (name === "bath_temperature_c") errors.temperature = [texts].flat().join(" ");
  }
  if (error.code === "no_network") return notice("look", word("set.no_network"));
  if (error.status === 401) {
    const back = `${facts.sign_in_url}?next=${encodeURIComponent(location.pathname)}`;
    return notice("stop", word("set.signed_out"),
      element("a", { class: "button button-small push", href: back, text: word("set.sign_in") }));
  }
  return notice("stop", error.message,
    element("small", { class: "quiet push", text: word("api.code", { code: error.code }) }));
}

/* The page is opened */

function restore() {
  const kept = draft.load();
  if (!kept) return;
  for (const row of rows) Object.assign(row, kept.rows[row.id] ?? {});
  started = kept.started;
  if (kept.thermometer) at("thermometer").querySelector("select").value = kept.thermometer;
  if (started) notice("know", word("set.draft", { time: clockTime(started) }));
}

function showThermometers() {
  const select = at("thermometer").querySelector("select");
  const own = sheet.thermometers.filter((each) => each.bath === sheet.bath.id);
  select.replaceChildren(element("option", { value: "", text: word("set.no_thermometer") }),
    ...sheet.thermometers.map((each) => element("option", { value: each.id, text: each.name })));
  if (own.length === 1) select.value = own[0].id;
  at("thermometer").hidden = Boolean(facts.amends) || sheet.thermometers.length === 0;
}

async function start() {
  const [{ data }, amended] = await Promise.all([
    get(`/api/v1/fills/${facts.fill}/float-sheet/`),
    facts.amends ? get(`/api/v1/float-sets/${facts.amends}/`) : null,
  ]);
  sheet = data;
  rows = rowsOf(sheet, amended?.data);
  showThermometers();
  restore();
  root.dataset.phase = "typing";
  at("set-acts").hidden = false;
  turnTo(Math.max(rows.findIndex(isMissing), 0));
  if (facts.amends) await loadTouched(at("touched"), facts.amends);
}

page.addEventListener("keypad-change", typed);
page.addEventListener("keypad-enter", next);
on(page, "click", "[data-next]", next);
on(page, "click", "[data-save]", save);
on(page, "click", "[data-not-there]", askWhy);
on(page, "click", "[data-row]", (event, button) => {
  turnTo(rows.findIndex((row) => row.id === button.dataset.row));
});
on(page, "click", "[data-why-cancel]", () => why.close("cancel"));
why.querySelector("form").addEventListener("submit", keepReason);
// Enter must not press "Not there" again, to which the browser gives the focus back.
why.addEventListener("close", () => at("rows").children[active]?.querySelector("button").focus());
page.querySelector("#reason")?.addEventListener("input", showActs);
page.querySelector("#thermometer").addEventListener("change", keepDraft);

document.addEventListener("keydown", (event) => {
  if (why.open || root.dataset.phase !== "typing") return;
  if (event.target.closest?.("input, select, details")) return;
  const step = { ArrowUp: -1, ArrowDown: 1 }[event.key];
  if (step && rows[active + step]) {
    event.preventDefault();
    turnTo(active + step);
  } else if (event.key === "Enter" && event.target.matches?.(".set-row")) {
    event.preventDefault();
    next();
  } else if (event.key === "Escape") history.back();
});

start().catch((error) => {
  root.dataset.phase = "typing";
  notice("stop", error.message);
});
