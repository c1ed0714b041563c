// Reading a piece: gap, height, Save. Nothing is prefilled and nothing is told before saving.
import { create, get } from "../../labsite/js/api.js";
import { clockTime } from "../../labsite/js/clock.js";
import { element, mark, on, readJson } from "../../labsite/js/dom.js";
import { draftOf } from "../../labsite/js/drafts.js";
import { Keypad } from "../../labsite/js/keypad.js";
import { poll } from "../../labsite/js/poll.js";
import { showConnection } from "../../labsite/js/shell.js";
import { chooseGap, stepGap } from "../../labsite/js/tube/gaps.js";
import { decimal, word } from "../../labsite/js/words.js";
import { askWhich } from "./reading/conflict.js";
import { showPiece } from "./reading/piece.js";
import { countDown, SETTLE_MS, showResult } from "./reading/result.js";

const HAS_NO_HEIGHT = new Set(["cannot_tell", "off_top", "off_bottom"]);

const facts = readJson("facts");
const root = document.querySelector("[data-read]");
const at = (name) => root.querySelector(`[data-${name}]`);
const figure = at("tube");
const dialog = document.querySelector("[data-faster]");
const keypad = new Keypad(at("keypad"), { display: at("typed"), steps: at("side"),
  isActive: () => phase === "typing" && !dialog.open });

let phase = "loading";
let scene = null;
let gap = null; // {upper, lower}: ids of the floats between which it was seen
let outcome = null;
let sending = false;
let polling = null;
let draft = null;
let stopCounting = () => {};
let savedAt = 0;

function enter(next) {
  phase = next;
  root.dataset.phase = next;
  at("result").hidden = next !== "saved";
  at("none").hidden = next !== "none";
}

function notice(level, text, ...more) {
  at("notice").replaceChildren(element("div", { class: `banner banner-${level}` },
    mark(`flag-${level}`, `mark-${level}`), element("p", { text }), ...more.filter(Boolean)));
}

function quiet() {
  at("notice").replaceChildren();
}

function label(id) {
  return scene.column.floats.find((float) => float.id === id)?.label ?? "";
}

/* What was typed so far */

function showTyped() {
  at("ask").textContent = gap
    ? word("read.ask_in_gap", { upper: label(gap.upper), lower: label(gap.lower) }) : word("read.ask");
  for (const key of root.querySelectorAll("[data-outcome-key]")) {
    key.setAttribute("aria-pressed", String(key.dataset.outcomeKey === outcome));
  }
  at("save-word").textContent = word(sending ? "read.saving" : "read.save");
  at("save-note").textContent = outcome
    ? word("read.save_outcome", { outcome: word(`outcome.${outcome}`) }) : word("read.save_height");
  at("save").setAttribute("aria-disabled", String(Boolean(whatIsMissing())));
}

function whatIsMissing() {
  if (!scene || scene.specimen.is_removed) return "read.removed";
  if (outcome && (HAS_NO_HEIGHT.has(outcome) || !keypad.value)) return null;
  if (!gap && scene.column.floats.length) return "read.tap_gap";
  return keypad.value ? null : "read.type_height";
}

function changed() {
  if (phase !== "typing") return;
  showTyped();
  draft.keep({ gap, outcome, typed: keypad.typed });
}

function startAgain() {
  gap = null;
  outcome = null;
  keypad.clear();
}

function restoreDraft() {
  const kept = draft.load();
  if (!kept || (!kept.gap && !kept.outcome && !kept.typed?.digits)) return;
  outcome = kept.outcome;
  keypad.become(kept.typed);
  if (kept.gap) chooseGap(figure.querySelector(".tube-gaps"), kept.gap.upper, kept.gap.lower);
  notice("know", word("read.your_draft"));
}

/* A piece is opened */

function refresh(data) {
  if (phase !== "typing") return;
  scene = { ...data, specimen: { ...data.specimen, seen_readings: scene.specimen.seen_readings } };
  showPiece(root, scene);
}

function address(id) {
  return facts.read_url.replace(facts.any, id);
}

async function open(id) {
  polling?.stop();
  stopCounting();
  enter("loading");
  const url = `/api/v1/specimens/${id}/blind-view/`;
  const { data } = await get(url);
  scene = data;
  history.replaceState(null, "", address(id));
  draft = draftOf(facts.person, `read:${id}`);
  keypad.setDivision(scene.column.scale.division_mm);
  startAgain();
  enter("typing");
  showPiece(root, scene);
  quiet();
  restoreDraft();
  showTyped();
  polling = poll({ url, every: 5000, onData: refresh, onState: showConnection });
}

async function readQueue() {
  const { data } = await get("/api/v1/read-queue/");
  return { next: data.results.find((piece) => piece.state === "ready") ?? null,
    falling: data.results.find((piece) => piece.state === "falling") ?? null };
}

function showNone(falling) {
  enter("none");
  at("none-text").textContent = falling
    ? word("read.none_ready_until", { time: clockTime(falling.ready_at) }) : word("read.none_ready");
}

async function openNext() {
  const { next, falling } = await readQueue();
  if (next) await open(next.specimen);
  else showNone(falling);
}

/* Saving */

function body() {
  const height = outcome && HAS_NO_HEIGHT.has(outcome) ? null : keypad.value;
  return {
    specimen: scene.specimen.id,
    outcome: outcome ?? "at_rest",
    height_mm: height,
    gap_upper_float: (height && gap?.upper) || null,
    gap_lower_float: (height && gap?.lower) || null,
    seen_readings: scene.specimen.seen_readings,
  };
}

async function save() {
  if (sending || phase !== "typing") return;
  const missing = whatIsMissing();
  if (missing) {
    notice("look", word(missing));
    return;
  }
  sending = true;
  showTyped();
  try {
    const { data } = await create("/api/v1/readings/", body(), { place: `read:${scene.specimen.id}` });
    await saved(data);
  } catch (error) {
    await refused(error);
  } finally {
    sending = false;
    showTyped();
  }
}

async function saved(reading) {
  draft.forget();
  polling.stop();
  savedAt = Date.now();
  enter("saved");
  showResult(root, reading, scene, facts.lot_url.replace(facts.any, scene.specimen.lot.id));
  const undo = at("undo");
  undo.dataset.reading = reading.id;
  stopCounting = countDown(undo, reading.undo_until_at, () => {});
  await showNextPiece();
}

function withColumn(next) {
  return word("read.next_detail", { shape: word(`shape.${next.shape}`), lot: next.lot,
    column: next.column.name });
}

async function showNextPiece() {
  const act = at("next-piece");
  const { next } = await readQueue().catch(() => ({ next: null }));
  act.dataset.specimen = next?.specimen ?? "";
  act.setAttribute("href", next ? address(next.specimen) : facts.bench_url);
  act.replaceChildren(...(next ? [mark(`shape-${next.shape}`, "piece piece-on-act")] : []),
    element("span", {}, element("b", { text: word(next ? "read.next" : "read.none_ready") }),
      next && element("span", { class: "act-detail", text: withColumn(next) })));
}

async function refused(error) {
  if (error.code === "already_read") return otherWasFaster(error);
  if (error.status === 401) return signedOut();
  if (error.code === "no_network") {
    const value = keypad.value ? `${decimal(keypad.value)} ${word("unit.height")}` : "";
    return notice("look", word("read.no_network", { value: value || word(`outcome.${outcome}`) }));
  }
  const suggestion = error.answer?.suggestion;
  return notice("stop", word("read.not_saved", { why: error.message }),
    suggestion ? takeButton(suggestion) : null);
}

function takeButton(height) {
  return element("button", { type: "button", class: "button button-small push",
    "data-take": height, text: word("read.take", { height: decimal(height) }) });
}

function signedOut() {
  const back = `${facts.sign_in_url}?next=${encodeURIComponent(address(scene.specimen.id))}`;
  notice("stop", word("read.signed_out"),
    element("a", { class: "button button-small push", href: back, text: word("read.sign_in") }));
}

async function otherWasFaster(error) {
  const own = body();
  const choice = await askWhich(dialog, error.current ?? {}, own);
  if (choice === null) return;
  if (choice === "first") {
    draft.forget();
    await openNext();
    return;
  }
  scene.specimen.seen_readings = error.answer.seen_readings;
  setTimeout(save, 0);
}

async function undo() {
  const { reading } = at("undo").dataset;
  try {
    await create(`/api/v1/readings/${reading}/withdraw/`, {}, { place: `undo:${reading}` });
    await open(scene.specimen.id);
    notice("know", word("read.undone"));
  } catch (error) {
    at("findings").prepend(element("li", { class: "flag", role: "alert" },
      mark("flag-look", "mark-look"), element("p", { text: error.message })));
  }
}

/* What a person does */

figure.addEventListener("gap-chosen", ({ detail }) => {
  gap = detail;
  if (HAS_NO_HEIGHT.has(outcome)) outcome = null;
  quiet();
  changed();
  if (matchMedia("(max-width: 40rem)").matches) root.querySelector(".read-number").scrollIntoView({ block: "start" });
});
figure.addEventListener("outcome-chosen", ({ detail }) => chooseOutcome(detail));
root.addEventListener("keypad-change", changed);
root.addEventListener("keypad-enter", save);
on(root, "click", "[data-save]", save);
on(root, "click", "[data-undo]", undo);
on(root, "click", "[data-outcome-key]", (event, key) => chooseOutcome(key.dataset.outcomeKey));
on(root, "click", "[data-take]", (event, key) => {
  keypad.take(key.dataset.take);
  quiet();
});
on(root, "click", "[data-next-piece]", (event, act) => {
  if (Date.now() - savedAt < SETTLE_MS) return event.preventDefault();
  if (!act.dataset.specimen || event.ctrlKey || event.metaKey) return undefined;
  event.preventDefault();
  return open(act.dataset.specimen).catch(fail);
});

function chooseOutcome(chosen) {
  outcome = outcome === chosen ? null : chosen;
  quiet();
  changed();
}

document.addEventListener("keydown", (event) => {
  if (dialog.open || event.target.closest?.("input, select, textarea, details")) return;
  if (event.key === "Escape") location.assign(facts.bench_url);
  else if (phase === "typing") typingKey(event);
  else if (phase === "saved" && event.key === "Enter" && event.target === at("density")) {
    if (Date.now() - savedAt > SETTLE_MS) at("next-piece").click();
  }
});

function typingKey(event) {
  const layer = figure.querySelector(".tube-gaps");
  if (event.key === "ArrowUp" || event.key === "ArrowDown") {
    event.preventDefault();
    if (layer) stepGap(layer, event.key === "ArrowUp" ? -1 : 1);
  } else if (event.key === "Enter" && event.target.matches?.('.gap[aria-pressed="true"]')) {
    event.preventDefault();
    save();
  }
}

function fail(error) {
  if (error.status === 401) return location.reload();
  enter("none");
  at("none-text").textContent = error.message;
  return undefined;
}

(facts.specimen ? open(facts.specimen) : openNext()).catch(fail);
