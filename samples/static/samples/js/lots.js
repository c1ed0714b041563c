// The list of lots: a page at a time from the API, and the form that registers one.
import { create, get } from "../../labsite/js/api.js";
import { dayAndTime } from "../../labsite/js/clock.js";
import { element, on, readJson } from "../../labsite/js/dom.js";
import { clearErrors, showErrors } from "../../labsite/js/fields.js";
import { decimal, word } from "../../labsite/js/words.js";

const LOTS = "/api/v1/lots/";
const facts = readJson("lots-facts");
const at = (name) => document.querySelector(`[data-${name}]`);
const filter = at("filter");
const rows = at("rows");
const more = at("more");
let next = null;
let asked = 0;

function urlOf(id) {
  return facts.lot_url.replace(facts.any, id);
}

function figureOf({ determination }) {
  if (!determination) return "";
  if (determination.masked) return word("lots.masked");
  const { density_g_cm3: density, expanded_uncertainty_g_cm3: spread } = determination.reported ?? {};
  return density ? `${decimal(density)}\u00a0±\u00a0${decimal(spread)}` : "–";
}

function waitsOf(lot) {
  const waits = word(`lots.waits.${lot.waits_for}`);
  if (lot.waits_for !== "reading") return waits;
  return word("lots.unread", { count: lot.unread_count, all: lot.piece_count });
}

function rowOf(lot) {
  const figure = figureOf(lot);
  const waits = waitsOf(lot);
  return element("li", {},
    element("div", {},
      element("a", { href: urlOf(lot.id), class: "lot-code", text: lot.code }),
      element("span", { class: "second", text: word("lots.by", {
        grade: lot.grade.name, time: dayAndTime(lot.received_at) }) })),
    element("div", { class: "lot-figure" },
      figure ? element("b", { text: figure }) : null,
      element("span", { class: lot.waits_for === "nothing" ? "second" : "lot-waits", text: waits })));
}

/** The answer to an older question that arrives late is left alone. */
async function load(url, { fresh }) {
  const turn = ++asked;
  const { data } = await get(url);
  if (turn !== asked) return;
  if (fresh) rows.replaceChildren();
  rows.append(...data.results.map(rowOf));
  if (!rows.children.length) rows.append(element("li", { text: word("lots.none") }));
  next = data.next ? new URL(data.next, location.href).search : null;
  more.hidden = !next;
}

function wanted() {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(filter)) if (value.trim()) query.set(name, value.trim());
  return query;
}

/** What is looked for stays in the address, so that going back shows the same list. */
async function find({ keep = true } = {}) {
  const query = wanted();
  if (keep) history.replaceState(null, "", query.size ? `?${query}` : location.pathname);
  clearErrors(filter);
  try {
    await load(`${LOTS}?${query}`, { fresh: true });
  } catch (error) {
    showErrors(filter, error);
  }
}

filter.addEventListener("submit", (event) => {
  event.preventDefault();
  find();
});
on(filter, "change", "select", () => find());
more.addEventListener("click", () => load(`${LOTS}${next}`, { fresh: false })
  .catch((error) => showErrors(filter, error)));

function showRefusal(form, error) {
  at("confirm").hidden = error.answer?.confirm !== "confirmed";
  const known = error.answer?.lot;
  at("known").hidden = !known;
  if (known) {
    at("known-link").href = urlOf(known);
    at("known-link").textContent = word("lots.open_it", { code: form.code.value.trim().toUpperCase() });
  }
  showErrors(form, error);
}

on(document, "input", "[data-register] [name=code]", (_event, input) => {
  input.form.confirmed.checked = false; // it was said of the code as it stood
  at("confirm").hidden = true;
});
on(document, "submit", "[data-register]", async (event, form) => {
  event.preventDefault();
  const button = form.querySelector('button[type="submit"]');
  button.disabled = true;
  clearErrors(form);
  const body = { code: form.code.value, grade: form.grade.value };
  if (form.note.value.trim()) body.note = form.note.value;
  if (form.confirmed.checked) body.confirmed = true;
  try {
    const { data } = await create(LOTS, body);
    location.assign(urlOf(data.id));
  } catch (error) {
    showRefusal(form, error);
    button.disabled = false;
  }
});

for (const [name, value] of new URLSearchParams(location.search)) {
  if (filter.elements[name]) filter.elements[name].value = value;
}
find({ keep: false });
