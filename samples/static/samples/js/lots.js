// The list of lots: a page at a time from the API, and the form that registers one.
import { create, get } from "../../labsite/js/api.js";
import { dayAndTime } from "../../labsite/js/clock.js";
import { element, on, readJson } from "../../labsite/js/dom.js";
import { clearErrors, showErrors } from "../../labsite/js/fields.js";
import { word } from "../../labsite/js/words.js";

const facts = readJson("lots-facts");
const rows = document.querySelector("[data-rows]");
const more = document.querySelector("[data-more]");
let next = null;

function urlOf(id) {
  return facts.lot_url.replace(facts.any, id);
}

function figureOf(lot) {
  const found = lot.determination;
  if (!found) return word("lots.waits.none");
  if (found.masked) return word("lots.masked");
  const { density_g_cm3: density, expanded_uncertainty_g_cm3: spread } = found.reported ?? {};
  return density ? `${density} ± ${spread}` : "–";
}

function rowOf(lot) {
  const status = lot.determination?.status ?? "none";
  return element("li", {},
    element("div", {},
      element("a", { href: urlOf(lot.id), class: "lot-code", text: lot.code }),
      element("span", { class: "second", text: word("lots.by", {
        grade: lot.grade.name, time: dayAndTime(lot.received_at) }) })),
    element("div", { class: "lot-figure" },
      element("b", { text: figureOf(lot) }),
      element("span", { class: "second", text: status === "none" ? "" : word(`lots.waits.${status}`) })));
}

async function load(url, { fresh }) {
  const { data } = await get(url);
  if (fresh) rows.replaceChildren();
  rows.append(...data.results.map(rowOf));
  if (!rows.children.length) rows.append(element("li", { text: word("lots.none") }));
  next = data.next ? new URL(data.next).search : null;
  more.hidden = !next;
}

function wanted(form) {
  const query = new URLSearchParams();
  for (const [name, value] of new FormData(form)) if (value.trim()) query.set(name, value.trim());
  return `/api/v1/lots/?${query}`;
}

on(document, "submit", "[data-filter]", (event, form) => {
  event.preventDefault();
  load(wanted(form), { fresh: true });
});
more.addEventListener("click", () => load(`/api/v1/lots/${next}`, { fresh: false }));

on(document, "submit", "[data-register]", async (event, form) => {
  event.preventDefault();
  clearErrors(form);
  const body = { code: form.code.value, grade: form.grade.value };
  if (form.note.value.trim()) body.note = form.note.value;
  if (form.confirmed.checked) body.confirmed = true;
  try {
    const { data } = await create("/api/v1/lots/", body);
    location.assign(urlOf(data.id));
  } catch (error) {
    form.querySelector("[data-confirm]").hidden = !String(error.code).includes("code");
    showErrors(form, error);
  }
});

load("/api/v1/lots/", { fresh: true });
