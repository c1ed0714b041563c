// What a saved reading gave: its density, what was found about it, ten seconds to undo it.
import { now } from "../../../labsite/js/clock.js";
import { element, mark } from "../../../labsite/js/dom.js";
import { decimal, plain, word } from "../../../labsite/js/words.js";

// A second tap of the same press must not hit what took the button's place.
export const SETTLE_MS = 700;

function densityOf(result) {
  if (result?.outcome === "lighter") return [word("read.lighter", { float: result.bound_float })];
  if (result?.outcome === "denser") return [word("read.denser", { float: result.bound_float })];
  const density = result?.shown.bracketing_g_cm3;
  if (!density) return [word("read.no_density")];
  return [decimal(density), element("span", { class: "unit", text: word("unit.density") })];
}

function heightLine(reading, column) {
  const outcome = word(`outcome.${reading.outcome}`);
  if (!reading.height_mm) return outcome;
  const height = word("read.height", { height: decimal(plain(reading.height_mm)), column: column.name });
  return reading.outcome === "at_rest" ? height : `${height}, ${outcome}`;
}

function expectedLine({ density_g_cm3: density, shown_height_mm: height }) {
  const facts = { density: decimal(plain(density, 4)), height: height && decimal(height) };
  return word(height ? "read.expected_at" : "read.expected", facts);
}

function remarks(reading, lot, lotUrl) {
  const { result, expected, unread_of_lot: left } = reading;
  const lines = [];
  if (!result || result.outcome === "none") lines.push(word("read.kept"));
  const curve = result?.shown.curve_g_cm3;
  if (curve) lines.push(word("read.curve", { density: decimal(curve) }));
  if (expected) lines.push(expectedLine(expected));
  const items = lines.map((text) => element("li", { text }));
  return [...items, left ? element("li", { text: word("read.left", { count: left }) })
    : element("li", {}, `${word("read.left_none")}: `, element("a", { href: lotUrl, text: lot.code }))];
}

function finding({ level, text }) {
  return element("li", { class: "flag" }, mark(`flag-${level}`, `mark-${level}`),
    element("p", { text }));
}

export function showResult(root, reading, { specimen, column }, lotUrl) {
  const density = root.querySelector("[data-density]");
  density.replaceChildren(...densityOf(reading.result));
  density.classList.toggle("read-words", !reading.result?.shown.bracketing_g_cm3);
  root.querySelector("[data-result-height]").textContent = heightLine(reading, column);
  root.querySelector("[data-remarks]").replaceChildren(...remarks(reading, specimen.lot, lotUrl));
  root.querySelector("[data-findings]").replaceChildren(
    ...(reading.result?.findings ?? []).map(finding));
  density.focus({ preventScroll: true });
}

/** Count the seconds down on the button; it goes when they are over. Returns the way to stop. */
export function countDown(button, until, onOver) {
  const label = button.querySelector("[data-undo-word]");
  const started = Date.now();
  function tick() {
    const seconds = Math.ceil((Date.parse(until) - now()) / 1000);
    button.hidden = seconds <= 0;
    button.disabled = Date.now() - started < SETTLE_MS;
    label.textContent = word("undo.seconds", { seconds });
    if (seconds <= 0) {
      clearInterval(timer);
      onOver();
    }
  }
  const timer = setInterval(tick, 250);
  tick();
  return () => clearInterval(timer);
}
