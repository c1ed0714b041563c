// One lot: its pieces on the density axis, its determinations, and what may be done with them.
import { create, get } from "../../labsite/js/api.js";
import { dayAndTime } from "../../labsite/js/clock.js";
import { showDensities } from "../../labsite/js/densityaxis.js";
import { element, mark, on, readJson } from "../../labsite/js/dom.js";
import { clearErrors, showErrors } from "../../labsite/js/fields.js";
import { word } from "../../labsite/js/words.js";
import { pieceRow, unreadOf } from "./lot/pieces.js";
import { determinationRow, headline } from "./lot/determinations.js";

const page = readJson("lot-facts");
const at = (name) => document.querySelector(`[data-${name}]`);
const DETERMINATIONS = "/api/v1/determinations/";
let seen = null;

function flag(finding) {
  return element("li", { class: "flag" }, mark(`flag-${finding.level}`, `mark-${finding.level}`),
    element("div", {}, element("p", { text: finding.text })));
}

function showAxis(axis) {
  at("axis-card").hidden = !axis?.pieces?.length;
  if (at("axis-card").hidden) return;
  const pieces = axis.pieces.map((piece) => ({
    ...piece, name: word(`shape.${piece.shape}`), note: `${piece.number}` }));
  const mean = axis.mean && { ...axis.mean, name: word("lot.mean", { count: axis.mean.count }) };
  showDensities(at("axis"), { ...axis, pieces, mean });
}

function showFindings(determination) {
  const findings = determination?.findings ?? [];
  at("findings-card").hidden = !findings.length;
  at("findings").replaceChildren(...findings.map(flag));
}

function tookPart(lot) {
  return lot.specimens.some((specimen) => specimen.readings.some((reading) =>
    [reading.read_by?.id, reading.entered_by?.id].includes(page.person)));
}

function show(lot) {
  seen = lot;
  at("masked").hidden = !lot.masked;
  at("masked").textContent = lot.masked ? word("lot.masked") : "";
  const [present] = lot.determinations;
  at("headline").textContent = headline(document.title.split(" · ")[0], present);
  showAxis(lot.axis);
  showFindings(present);
  const told = { page, own: tookPart(lot), spreadLimit: lot.grade.spread_limit_g_cm3 };
  at("determinations").replaceChildren(...(lot.determinations.length
    ? lot.determinations.map((each) => determinationRow(each, told))
    : [element("p", { class: "quiet", text: word("lot.none") })]));
  at("pieces").replaceChildren(lot.specimens.length
    ? element("ul", { class: "lot-pieces" }, ...lot.specimens.map((each) => pieceRow(each, page)))
    : element("p", { class: "quiet", text: word("lot.no_pieces") }));
  showPrepare(lot);
}

function showPrepare(lot) {
  const acts = at("prepare-acts");
  if (!acts) return;
  acts.hidden = lot.masked || !lot.specimens.length;
  at("repeat").hidden = !lot.determinations.some((each) => each.status === "released");
  at("take-over").hidden = !unreadOf(lot, page.person).length;
}

async function load() {
  const { data } = await get(`/api/v1/lots/${page.lot}/facts/`);
  show(data);
}

async function act(form, work) {
  const buttons = [...form.querySelectorAll("button")].filter((button) => !button.disabled);
  for (const button of buttons) button.disabled = true;
  clearErrors(form);
  try {
    await work();
    await load();
    return true;
  } catch (error) {
    showErrors(form, error);
    return false;
  } finally {
    for (const button of buttons) button.disabled = false;
  }
}

function chosen(form) {
  const counted = [];
  const setAside = [];
  for (const box of form.querySelectorAll("[data-counts]")) {
    if (box.checked) counted.push(box.value);
    else setAside.push({ specimen: box.value, reason: form.elements[`aside-${box.value}`].value });
  }
  return { counted, set_aside: setAside };
}

on(document, "submit", "[data-prepare]", (event, form) => {
  event.preventDefault();
  const body = { lot: page.lot, ...chosen(form) };
  const because = form.repeat_because?.value.trim();
  if (because) body.repeat_because = because;
  act(form, () => create(DETERMINATIONS, body));
});
on(document, "change", "[data-counts]", (_event, box) => {
  box.closest("li").querySelector("[data-aside]").hidden = box.checked;
});
on(document, "submit", "[data-act-on]", (event, form) => {
  event.preventDefault();
  const { actOn, verb } = form.dataset;
  const body = {};
  if (form.note?.value.trim()) body.note = form.note.value.trim();
  if (form.reason) body.reason = form.reason.value.trim();
  act(form, () => create(`${DETERMINATIONS}${actOn}/${verb}/`, body));
});
on(document, "click", "[data-take-over]", (_event, button) => {
  const specimens = unreadOf(seen, page.person).map((specimen) => specimen.id);
  act(button.closest("form"), () => create("/api/v1/specimens/take-over/", { specimens }));
});

const dialog = at("amend-dialog");
on(document, "click", "[data-amend-reading]", (_event, button) => {
  const form = at("amend-form");
  clearErrors(form);
  form.reset();
  form.dataset.reading = button.dataset.amendReading;
  dialog.showModal();
  form.height_mm.focus();
});
on(dialog, "click", "[data-close]", () => dialog.close());
on(dialog, "submit", "form", async (event, form) => {
  event.preventDefault();
  const body = { reason: form.reason.value.trim() };
  if (form.height_mm.value.trim()) body.height_mm = form.height_mm.value.trim();
  const url = `/api/v1/readings/${form.dataset.reading}/amend/`;
  if (await act(form, () => create(url, body))) dialog.close();
});

load().catch((error) => showErrors(at("prepare"), error));
