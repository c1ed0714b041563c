// One lot: its pieces on the density axis, its determinations, and what may be done with them.
import { create } from "../../labsite/js/api.js";
import { clockTime } from "../../labsite/js/clock.js";
import { showDensities } from "../../labsite/js/densityaxis.js";
import { element, mark, on, readJson } from "../../labsite/js/dom.js";
import { clearErrors, showErrors } from "../../labsite/js/fields.js";
import { whenFree } from "../../labsite/js/patch.js";
import { poll } from "../../labsite/js/poll.js";
import { showConnection } from "../../labsite/js/shell.js";
import { decimal, word } from "../../labsite/js/words.js";
import { determinationRow, headline, olderIssues } from "./lot/determinations.js";
import { heightOf, pieceRow, standing, unreadOf } from "./lot/pieces.js";

const page = readJson("lot-facts");
const at = (name) => document.querySelector(`[data-${name}]`);
const DETERMINATIONS = "/api/v1/determinations/";
const body = at("lot-page");
let seen = null;
let isTouched = false;

function flag(finding) {
  return element("li", { class: "flag" }, mark(`flag-${finding.level}`, `mark-${finding.level}`),
    element("div", {}, element("b", { text: word(`lot.level.${finding.level}`) }),
      element("p", { text: finding.text })));
}

function noteOf(specimen) {
  const reading = standing(specimen).at(-1);
  return reading ? `${heightOf(reading)}, ${clockTime(reading.read_at)}` : "";
}

function showAxis({ axis, specimens, determinations }) {
  at("axis-card").hidden = !axis.pieces.length;
  if (!axis.pieces.length) return;
  const byId = new Map(specimens.map((specimen) => [specimen.id, specimen]));
  const pieces = axis.pieces.map((piece) => ({ ...piece, note: noteOf(byId.get(piece.specimen)),
    name: word("lot.piece", { number: piece.number, shape: word(`shape.${piece.shape}`) }) }));
  const shown = determinations[0]?.shown;
  const mean = axis.mean && { ...axis.mean,
    name: word("lot.mean", { count: axis.mean.count, k: decimal(shown?.coverage_factor ?? "–") }),
    note: shown?.spread_g_cm3 ? word("lot.range", { spread: decimal(shown.spread_g_cm3) }) : "" };
  showDensities(at("axis"), { ...axis, pieces, mean });
}

function showFindings(lot) {
  const findings = lot.determinations[0]?.findings ?? [];
  at("findings-card").hidden = !findings.length;
  at("findings").replaceChildren(...findings.map(flag));
}

function showDeterminations(lot) {
  const told = { page, barred: lot.barred };
  const present = lot.determinations.filter((each) => each.status !== "amended");
  const older = lot.determinations.filter((each) => each.status === "amended");
  at("determinations").replaceChildren(...[
    ...present.map((each) => determinationRow(each, told)),
    present.length ? null : element("p", { class: "quiet", text: word("lot.none") }),
    olderIssues(older, told)].filter(Boolean));
}

function showPieces(lot) {
  const onAxis = new Map(lot.axis.pieces.map((piece) => [piece.specimen, piece]));
  at("pieces").replaceChildren(lot.specimens.length
    ? element("ul", { class: "lot-pieces" },
      ...lot.specimens.map((each) => pieceRow(each, page, onAxis.get(each.id))))
    : element("p", { class: "quiet", text: word("lot.no_pieces") }));
}

function showPrepare(lot) {
  if (!page.may.measure) return;
  const [present] = lot.determinations;
  at("prepare-acts").hidden = lot.masked || !lot.axis.pieces.length;
  at("repeat").hidden = present?.status !== "released";
  at("prepare-button").classList.toggle("button-act", !present);
  at("prepare-button").textContent = word(present ? "lot.prepare_again" : "lot.prepare");
  const others = unreadOf(lot, page.person);
  at("take-over").hidden = !others.length;
  at("take-over").textContent = word("lot.take_over", { count: others.length });
}

function show(lot) {
  seen = lot;
  isTouched = false;
  at("changed").hidden = true;
  at("masked").hidden = !lot.masked;
  at("headline").textContent = headline(page.code, lot);
  showAxis(lot);
  showFindings(lot);
  showDeterminations(lot);
  showPieces(lot);
  showPrepare(lot);
}

/** What somebody is typing or has ticked is never replaced: the page asks first. */
function take(lot) {
  if (!isTouched && !dialog?.open) return whenFree(body, () => show(lot));
  seen = lot;
  at("changed").hidden = false;
}

const dialog = at("amend-dialog");
const live = poll({ url: `/api/v1/lots/${page.lot}/facts/`, onData: take, onState: showConnection });
on(document, "click", "[data-show-changed]", () => show(seen));
on(body, "input", "input, textarea, select", () => { isTouched = true; });

/** Send one act and show what came of it; the errors stand at the fields. */
async function act(form, work) {
  const buttons = [...form.querySelectorAll("button")].filter((button) => !button.disabled);
  for (const button of buttons) button.disabled = true;
  clearErrors(form);
  try {
    await work();
    isTouched = false;
    document.activeElement?.blur();
    if (dialog?.open) dialog.close();
    await live.refresh();
    at("headline").focus();
  } catch (error) {
    showErrors(form, error);
  } finally {
    for (const button of buttons) button.disabled = false;
  }
}

function chosen(form) {
  const counted = [];
  const setAside = [];
  for (const box of form.querySelectorAll("[data-counts]")) {
    if (box.checked) counted.push(box.value);
    else setAside.push({ specimen: box.value, reason: form.elements[`aside-${box.value}`].value.trim() });
  }
  return { counted, set_aside: setAside };
}

/** Each piece that is set aside says why, at its own field; the API would refuse it too. */
function lacksReasons(form) {
  const empty = [...form.querySelectorAll("[data-aside]:not([hidden]) input")]
    .filter((input) => !input.value.trim());
  if (!empty.length) return false;
  const why = word("lot.aside_why");
  showErrors(form, { code: "reason_required", message: why,
    fields: Object.fromEntries(empty.map((input) => [input.name, why])) });
  return true;
}

on(document, "submit", "[data-prepare]", (event, form) => {
  event.preventDefault();
  if (lacksReasons(form)) return;
  const wanted = { lot: page.lot, ...chosen(form) };
  const because = form.repeat_because?.value.trim();
  if (because) wanted.repeat_because = because;
  act(form, () => create(DETERMINATIONS, wanted));
});
on(document, "change", "[data-counts]", (_event, box) => {
  box.closest("li").querySelector("[data-aside]").hidden = box.checked;
});
on(document, "submit", "[data-act-on]", (event, form) => {
  event.preventDefault();
  const { actOn, verb } = form.dataset;
  const wanted = {};
  if (form.note?.value.trim()) wanted.note = form.note.value.trim();
  if (form.reason) wanted.reason = form.reason.value.trim();
  act(form, () => create(`${DETERMINATIONS}${actOn}/${verb}/`, wanted));
});
on(document, "click", "[data-take-over]", (_event, button) => {
  const specimens = unreadOf(seen, page.person).map((specimen) => specimen.id);
  act(button.closest("form"), () => create("/api/v1/specimens/take-over/", { specimens }));
});

function readingWith(id) {
  return seen.specimens.flatMap((specimen) => specimen.readings).find((each) => each.id === id);
}

on(document, "click", "[data-amend-reading]", (_event, button) => {
  const form = at("amend-form");
  const reading = readingWith(button.dataset.amendReading);
  clearErrors(form);
  form.reset();
  form.dataset.reading = reading.id;
  form.outcome.value = reading.outcome;
  at("amend-first").textContent = word("lot.first_value", {
    value: `${word(`outcome.${reading.outcome}`)} ${heightOf(reading)}`.trim() });
  dialog.showModal();
  form.height_mm.focus();
});
on(document, "click", "[data-close]", () => dialog.close());
on(document, "submit", "[data-amend-form]", (event, form) => {
  event.preventDefault();
  const wanted = { reason: form.reason.value.trim(), outcome: form.outcome.value };
  if (form.height_mm.value.trim()) wanted.height_mm = form.height_mm.value.trim();
  act(form, () => create(`/api/v1/readings/${form.dataset.reading}/amend/`, wanted));
});

live.refresh();
