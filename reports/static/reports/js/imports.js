// Import: choose a file, see how it is understood, save all rows or none.
// The file stays in the browser until it is saved; the server checks that it is the same one.
import { ApiError, keyFor, request, settle } from "../../labsite/js/api.js";
import { element, on } from "../../labsite/js/dom.js";
import { clearErrors, showErrors } from "../../labsite/js/fields.js";
import { word } from "../../labsite/js/words.js";
import {
  showBad, showEarlier, showGuesses, showRemarks, showRows, tell, titleOf,
} from "./importview.js";

const WAIT_BEFORE_WORDS = 400;

const form = document.querySelector("[data-import]");
const result = document.querySelector("[data-result]");
const status = document.querySelector("[data-status]");
const save = result.querySelector("[data-save]");
const look = form.querySelector("[data-preview]");

// What the person chose instead of a guess, and the preview that is shown.
let chosen = {};
let preview = null;

function part(name) {
  return result.querySelector(`[data-${name}]`);
}

function body(more) {
  const data = new FormData();
  data.append("kind", form.elements.kind.value);
  data.append("file", form.elements.file.files[0]);
  for (const [name, value] of Object.entries(more)) data.append(name, value);
  return data;
}

async function busy(text, work) {
  const timer = setTimeout(() => { status.textContent = text; }, WAIT_BEFORE_WORDS);
  look.disabled = true;
  save.disabled = true;
  try {
    return await work();
  } finally {
    clearTimeout(timer);
    look.disabled = false;
    if (status.textContent === text) status.textContent = "";
  }
}

function fail(error) {
  if (!(error instanceof ApiError)) throw error;
  showErrors(form, error);
}

/** One filled button: saving when it can be done, else looking. */
function markNextAct(isReady) {
  look.classList.toggle("button-act", !isReady);
  save.classList.toggle("button-act", isReady);
  save.disabled = !isReady;
}

function forget() {
  preview = null;
  result.hidden = true;
  markNextAct(false);
}

function draw() {
  part("title").textContent = titleOf(preview);
  showEarlier(part("earlier"), preview.earlier);
  showBad(part("bad"), preview.bad);
  showRemarks(part("remarks"), preview.remarks);
  showGuesses(part("guesses"), preview.guesses);
  showRows(part("rows"), preview);
  part("would-make").textContent = preview.ready && preview.would_make_text
    ? word("imports.would_make", { counts: preview.would_make_text }) : "";
  save.textContent = word("imports.save", { rows: preview.row_count });
  result.hidden = false;
  markNextAct(preview.ready);
}

async function showPreview({ focus }) {
  clearErrors(form);
  status.textContent = "";
  try {
    const more = { choices: JSON.stringify(chosen) };
    const answer = await busy(word("imports.reading"), () =>
      request("POST", form.dataset.previewUrl, { body: body(more) }));
    preview = answer.data;
    draw();
    (focus ? result.querySelector(focus) : part("title"))?.focus();
  } catch (error) {
    forget();
    fail(error);
  }
}

function refuseWithoutFile() {
  showErrors(form, { code: "file", message: "", fields: { file: [word("imports.choose_file")] } });
}

async function saveAll() {
  clearErrors(form);
  const more = { sha256: preview.file.sha256, choices: JSON.stringify(preview.choices) };
  const place = form.dataset.saveUrl;
  const key = keyFor(place, { kind: preview.kind, ...more });
  try {
    const answer = await busy(word("imports.saving"), () =>
      request("POST", place, { body: body(more), key }));
    settle(place);
    await finish(answer.data);
  } catch (error) {
    if (error instanceof ApiError && error.status >= 400 && error.status < 500) settle(place);
    showRefusal(error);
  }
}

/** The lab changed since the preview: its rows are told anew. */
function showRefusal(error) {
  markNextAct(Boolean(preview?.ready) && error.status !== 422 && error.status !== 409);
  if (error.answer?.bad) showBad(part("bad"), error.answer.bad);
  fail(error);
}

async function finish(batch) {
  const text = word("imports.saved", { counts: batch.counts_text, file: batch.file_name });
  form.elements.file.value = "";
  chosen = {};
  forget();
  await refreshRecent();
  tell(status, text);
  status.focus();
}

async function refreshRecent() {
  const page = await fetch(location.href, { credentials: "same-origin" });
  if (!page.ok) return;
  const fresh = new DOMParser().parseFromString(await page.text(), "text/html");
  const box = document.querySelector("[data-recent]");
  box.replaceChildren(...fresh.querySelector("[data-recent]").childNodes);
}

function download(name, text) {
  const blob = new Blob(["\ufeff", text], { type: "text/csv;charset=utf-8" });
  const link = element("a", { href: URL.createObjectURL(blob), download: name });
  document.body.append(link);
  link.click();
  link.remove();
  URL.revokeObjectURL(link.href);
}

form.addEventListener("submit", (event) => {
  event.preventDefault();
  if (form.elements.file.files.length) showPreview({});
  else refuseWithoutFile();
});

form.addEventListener("change", (event) => {
  chosen = {};
  forget();
  clearErrors(form);
  status.textContent = "";
  if (event.target.name !== "kind") return;
  for (const box of form.querySelectorAll("[data-kind]")) {
    box.hidden = box.dataset.kind !== event.target.value;
  }
});

on(result, "change", "select", (event, select) => {
  if (!select.value) return;
  chosen = { ...chosen, [select.name]: select.value };
  showPreview({ focus: `#${select.id}` });
});

save.addEventListener("click", saveAll);

part("bad-download").addEventListener("click", () => {
  download(`${preview.file.name} - ${word("imports.bad_file")}.csv`, preview.bad_csv);
});

on(form, "click", "[data-empty-table]", (event, button) => {
  download(`${button.dataset.emptyTable}.csv`, `${button.dataset.headers.split("|").join(",")}\r\n`);
});
