// Blind reading: each gap between two floats is a button laid over the drawing.
import { element, on } from "../dom.js";
import { word } from "../words.js";

/** Gaps from the top down, each between two neighbouring floats, and the two ends. */
export function gapsOf(floats) {
  const sorted = [...floats].sort((a, b) => b.above_bottom_mm - a.above_bottom_mm);
  const gaps = sorted.slice(1).map((lower, index) => ({ upper: sorted[index], lower }));
  return { gaps, highest: sorted[0] ?? null, lowest: sorted.at(-1) ?? null };
}

function place(button, top, bottom) {
  const inset = Math.max(2, Math.min(9, (bottom - top) / 5));
  button.style.setProperty("top", `${top}px`);
  button.style.setProperty("height", `${Math.max(bottom - top, 24)}px`);
  button.style.setProperty("--gap-inset", `${inset}px`);
  return button;
}

function gapButton({ upper, lower }, y) {
  const name = word("tube.gap", { upper: upper.label, lower: lower.label });
  return place(element("button", {
    type: "button", class: "gap", "aria-pressed": "false", "aria-label": name,
    "data-upper": upper.id, "data-lower": lower.id,
  }, element("span", { class: "gap-chosen", text: word("tube.in_here") })),
  y(upper.above_bottom_mm), y(lower.above_bottom_mm));
}

function outcomeButton(outcome, top, bottom) {
  return place(element("button", {
    type: "button", class: "gap gap-outcome", "data-outcome": outcome,
  }, element("span", { text: word(`outcome.${outcome}`) })), top, bottom);
}

function choose(layer, button) {
  for (const other of layer.querySelectorAll("[aria-pressed]")) {
    other.setAttribute("aria-pressed", String(other === button));
  }
  const { upper, lower } = button.dataset;
  layer.dispatchEvent(new CustomEvent("gap-chosen", { bubbles: true, detail: { upper, lower } }));
}

/** Buttons over the drawing; they tell the page by "gap-chosen" and "outcome-chosen". */
export function gapLayer(overview, { y, top, bottom, start }) {
  const { gaps, highest, lowest } = gapsOf(overview.floats);
  const layer = element("div", { class: "tube-gaps", role: "group",
    "aria-label": word("tube.gaps") });
  layer.style.setProperty("--gap-start", `${start}px`);
  if (!highest) return layer;
  layer.append(outcomeButton("off_top", top, y(highest.above_bottom_mm)),
    ...gaps.map((gap) => gapButton(gap, y)),
    outcomeButton("off_bottom", y(lowest.above_bottom_mm), bottom));
  on(layer, "click", "[data-upper]", (event, button) => choose(layer, button));
  on(layer, "click", "[data-outcome]", (event, button) => layer.dispatchEvent(
    new CustomEvent("outcome-chosen", { bubbles: true, detail: button.dataset.outcome })));
  return layer;
}

/** Arrow keys: the next gap up (−1) or down (+1) from the chosen one, chosen and focused. */
export function stepGap(layer, direction) {
  const buttons = [...layer.querySelectorAll("[data-upper]")];
  const chosen = buttons.findIndex((button) => button.getAttribute("aria-pressed") === "true");
  const start = chosen < 0 && direction < 0 ? buttons.length : chosen;
  const next = buttons[Math.min(Math.max(start + direction, 0), buttons.length - 1)];
  if (!next) return;
  choose(layer, next);
  next.focus({ preventScroll: true });
}

/** The gap that was chosen before a new drawing looks chosen in it, without telling the page. */
export function markGap(figure, upper, lower) {
  const button = figure.querySelector(`[data-upper="${upper}"][data-lower="${lower}"]`);
  button?.setAttribute("aria-pressed", "true");
}

export function chooseGap(layer, upper, lower) {
  const button = layer.querySelector(`[data-upper="${upper}"][data-lower="${lower}"]`);
  if (button) choose(layer, button);
}
