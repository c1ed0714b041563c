// Drop: lot, recipe, column and why, shapes, a look for bubbles, then "Dropped now".
import { create, get } from "../../labsite/js/api.js";
import { clockTime } from "../../labsite/js/clock.js";
import { element, mark, on, readJson } from "../../labsite/js/dom.js";
import { clearErrors, showErrors } from "../../labsite/js/fields.js";
import { decimal, plain, word } from "../../labsite/js/words.js";
import { bandText, shapeRow, shapesFor, showColumns } from "./dropping/advice.js";
import { findLot, gradesInUse, lotById, recipeOf, registerLot } from "./dropping/lots.js";

const MOST_PIECES = 20;
const UUID = /^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/i;

const facts = readJson("facts");
const page = document.getElementById("content");
const at = (name) => page.querySelector(`[data-${name}]`);
const form = at("lot-form");

let lot = null;
let made = null; // {grade, recipe}
let advices = [];
let column = null;
let shapes = [];
let sending = false;

function notice(level, text, ...more) {
  at("notice").replaceChildren(element("div", { class: `banner banner-${level}` },
    mark(`flag-${level}`, `mark-${level}`), element("p", { text }), ...more.filter(Boolean)));
}

function chosen() {
  return advices.find((advice) => advice.column.id === column) ?? null;
}

/* 1 The lot */

async function seek(code) {
  clearErrors(form);
  hideLot();
  if (!code) return showErrors(form, { fields: { code: [word("drop.is_something_else", { code: "–" })] } });
  const found = await findLot(code);
  return found ? open(found) : offerToRegister(code);
}

function hideLot() {
  lot = null;
  at("register").hidden = true;
  for (const name of ["recipe", "columns", "pieces", "acts"]) at(name).hidden = true;
  at("lot-facts").replaceChildren();
  at("notice").replaceChildren();
}

async function offerToRegister(code) {
  at("register-text").textContent = word("drop.lot_new", { code });
  const grades = await gradesInUse();
  form.elements.grade.replaceChildren(element("option", { value: "", text: "" }),
    ...grades.map((grade) => element("option", { value: grade.id, text: grade.name })));
  at("register").hidden = !facts.may.register_lot;
  form.elements.grade.focus();
}

async function register(confirmed = false) {
  clearErrors(form);
  try {
    const { code, grade } = form.elements;
    await open(await registerLot(code.value.trim(), grade.value, confirmed));
  } catch (error) {
    showErrors(form, error);
    if (error.answer?.confirm) at("lot-facts").replaceChildren(element("button",
      { type: "button", class: "button", "data-confirm": true, text: word("drop.confirm") }));
  }
}

async function open(found) {
  lot = found;
  at("register").hidden = true;
  showLot();
  made = await recipeOf(lot.grade.id);
  showRecipe();
  await loadAdvice();
}

function showLot() {
  const { determination } = lot;
  at("lot-facts").replaceChildren(...[
    element("p", { class: "drop-found" }, element("b", {
      text: word("drop.lot_found", { code: lot.code, grade: lot.grade.name }) })),
    determination && element("p", { class: "flag flag-line" }, mark("flag-know", "mark-know"),
      element("span", { text: word("drop.tested",
        { status: word(`drop.status_${determination.status}`) }) })),
  ].filter(Boolean));
}

/* 2 The recipe */

function showRecipe() {
  const { recipe } = made;
  const shape = word(`drop.form_${recipe.form}`);
  const form_ = recipe.thickness_mm
    ? word("drop.thickness", { form: shape, thickness: decimal(plain(recipe.thickness_mm)) }) : shape;
  at("recipe-name").textContent = word("drop.recipe", { name: recipe.name, form: form_ });
  at("recipe-wait").textContent = recipe.wait_minutes
    ? word("drop.wait_own", { minutes: recipe.wait_minutes }) : word("drop.wait");
  at("recipe-text").textContent = recipe.instructions;
  at("recipe").hidden = false;
}

/* 3 The column, 4 the shapes */

async function loadAdvice() {
  const { data } = await get(`/api/v1/drop-advice/?lot=${lot.id}`);
  advices = data.results;
  column = advices.find((advice) => advice.is_open)?.column.id ?? null;
  showColumns(at("column-list"), advices, column);
  at("columns").hidden = false;
  at("acts").hidden = false;
  takeColumn();
}

function takeColumn() {
  const advice = chosen();
  at("pieces").hidden = !advice;
  at("band").textContent = bandText(advice);
  at("override").hidden = !advice || advice.is_open || !facts.may.override_closed;
  if (advice) setShapes(shapesFor(advice, shapes.length || made.grade.specimens_required));
  showNow();
}

function setShapes(next) {
  shapes = next;
  const { shapes: uses } = chosen();
  at("needs").textContent = word("drop.needs", { count: made.grade.specimens_required });
  at("piece-count").textContent = String(shapes.length);
  at("shape-list").replaceChildren(...shapes.map((shape, index) => shapeRow(index, shape, uses)));
  showNow();
}

function showNow() {
  const advice = chosen();
  const names = shapes.map((shape) => word(`shape.${shape}`)).join(", ");
  at("now-detail").textContent = sending ? word("drop.sending") : (advice
    ? word("drop.now_detail", { shapes: names, column: advice.column.name }) : "");
  at("now").setAttribute("aria-disabled", String(Boolean(whatIsMissing())));
}

function whatIsMissing() {
  const advice = chosen();
  if (!advice) return word("drop.choose_column");
  if (!advice.is_open && !page.querySelector("#override").value.trim()) {
    return facts.may.override_closed ? word("drop.say_why")
      : word("drop.closed", { note: advice.state_note });
  }
  return at("wet").checked ? null : word("drop.check_first");
}

/* Dropped */

function body() {
  const advice = chosen();
  const override = page.querySelector("#override").value.trim();
  return { lot: lot.id, fill: advice.fill, shapes,
    ...(override && !advice.is_open ? { override_reason: override } : {}) };
}

async function drop() {
  if (sending) return;
  const missing = whatIsMissing();
  if (missing) {
    notice("look", missing);
    return;
  }
  sending = true;
  showNow();
  try {
    const { data } = await create("/api/v1/specimens/", body());
    done(data.specimens);
  } catch (error) {
    refused(error);
  } finally {
    sending = false;
    showNow();
  }
}

function refused(error) {
  if (error.code === "no_network") return notice("look", word("drop.no_network"));
  if (error.status === 401) {
    return notice("stop", word("drop.signed_out"), element("a", { class: "button button-small push",
      href: `${facts.sign_in_url}?next=${encodeURIComponent(location.pathname)}`, text: word("drop.sign_in") }));
  }
  return notice("stop", error.message, element("small", { class: "quiet push",
    text: word("api.code", { code: error.code }) }));
}

function done(specimens) {
  const [first] = specimens;
  at("done-title").textContent = word("drop.done",
    { count: specimens.length, code: first.lot.code, column: first.column.name });
  at("done-ready").textContent = word("drop.ready_at", { time: clockTime(first.ready_at) });
  at("done-second").textContent = first.second_look_at
    ? word("drop.second_look", { time: clockTime(first.second_look_at) }) : "";
  at("done-shapes").replaceChildren(...specimens.map((piece) => element("li", { class: "state" },
    mark(`shape-${piece.shape}`, "piece-mark piece piece-falling"),
    element("span", { text: word(`shape.${piece.shape}`) }))));
  for (const part of [at("drop"), at("acts"), at("notice")]) part.hidden = true;
  at("done").hidden = false;
  at("done-title").focus();
}

/* What a person does */

function told(error) {
  if (Object.keys(error.fields ?? {}).length) showErrors(form, error);
  else refused(error);
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  seek(form.elements.code.value.trim()).catch(told);
});
on(page, "click", "[data-register-act]", () => register());
on(page, "click", "[data-confirm]", () => register(true));
on(page, "change", '[name="column"]', (event, input) => {
  column = input.value;
  takeColumn();
});
on(page, "change", "[data-shape]", (event, select) => {
  setShapes(shapes.map((shape, index) => (index === Number(select.dataset.shape) ? select.value : shape)));
  at("shape-list").querySelector(`[data-shape="${select.dataset.shape}"]`).focus();
});
on(page, "click", "[data-more]", () => {
  if (shapes.length < MOST_PIECES) setShapes(shapesFor(chosen(), shapes.length + 1));
});
on(page, "click", "[data-fewer]", () => {
  if (shapes.length > 1) setShapes(shapes.slice(0, -1));
});
at("wet").addEventListener("change", () => {
  at("notice").replaceChildren();
  showNow();
});
page.querySelector("#override").addEventListener("input", showNow);
on(page, "click", "[data-now]", drop);

/** The address may name the lot by its id or by its code. */
async function start(asked) {
  if (!UUID.test(asked)) {
    form.elements.code.value = asked;
    return seek(asked);
  }
  const found = await lotById(asked);
  form.elements.code.value = found.code;
  return open(found);
}

if (facts.lot) start(facts.lot).catch(told);
