// The columns for a lot, the best first, and the shapes that can be told apart there.
import { element, mark } from "../../../labsite/js/dom.js";
import { decimal, word } from "../../../labsite/js/words.js";

const MARK_MM = 10; // edges lie on painted marks
const LEAST_BAND_MM = 30; // our rule: a narrower one would lead the eye

/** Where it will come to rest, wide on purpose and without a middle. */
export function bandOf(height) {
  const low = Math.floor((height - LEAST_BAND_MM / 2) / MARK_MM) * MARK_MM;
  const high = Math.ceil((height + LEAST_BAND_MM / 2) / MARK_MM) * MARK_MM;
  return { low: Math.max(low, 0), high };
}

function coverWord(advice) {
  if (advice.covers === null) return word("drop.covers_unknown");
  return word(advice.covers ? "drop.covers" : "drop.covers_not");
}

function crowdOf(advice) {
  return advice.shapes.reduce((sum, use) => sum + use.near, 0);
}

function whyLine(advice) {
  if (!advice.is_open) return advice.state_note;
  const crowd = crowdOf(advice);
  const near = advice.covers && (crowd ? word("drop.crowd", { count: crowd }) : word("drop.clear"));
  return [coverWord(advice), near].filter(Boolean).join(", ");
}

function choice(advice, index, chosen) {
  const input = element("input", { type: "radio", name: "column", value: advice.column.id,
    checked: advice.column.id === chosen });
  const best = index === 0 && advice.is_open && advice.covers;
  return element("label", { class: "choice drop-column" }, input, element("span", {},
    mark(`state-${advice.state}`),
    element("span", { class: "drop-column-text" },
      element("b", { text: advice.column.name }), ` ${advice.state_word}`,
      best ? element("em", { class: "drop-best", text: word("drop.best") }) : "",
      element("small", { text: whyLine(advice) }))));
}

/** Open columns first; the others lie folded, named by their states. */
export function showColumns(list, advices, chosen) {
  const rows = advices.map((advice, index) => choice(advice, index, chosen));
  const open = rows.filter((_, index) => advices[index].is_open);
  const closed = rows.filter((_, index) => !advices[index].is_open);
  const names = advices.filter((advice) => !advice.is_open).map((advice) => advice.column.name);
  list.replaceChildren(...open, ...(closed.length ? [element("details", { open: !open.length },
    element("summary", { text: word("drop.not_open", { names: names.join(", ") }) }),
    element("div", { class: "drop-columns" }, ...closed))] : []));
}

export function bandText(advice) {
  if (!advice) return "";
  if (advice.masked) return word("drop.band_masked");
  if (advice.expected_height_mm === null) return "";
  const { low, high } = bandOf(advice.expected_height_mm);
  return word("drop.band", { low: decimal(low), high: decimal(high) });
}

/** Shapes for `count` pieces: the least used first, then from the start again. */
export function shapesFor(advice, count) {
  const order = advice.shapes.map((use) => use.shape);
  return Array.from({ length: count }, (_, index) => order[index % order.length]);
}

export function shapeRow(number, shape, uses) {
  const use = uses.find((each) => each.shape === shape);
  const select = element("select", { "data-shape": number, "aria-label": word("drop.piece", { number: number + 1 }) },
    ...uses.map((each) => element("option", { value: each.shape, selected: each.shape === shape,
      text: word(`shape.${each.shape}`) })));
  return element("li", { class: "drop-shape" }, mark(`shape-${shape}`, "piece-mark piece piece-today"),
    select, element("span", { class: "second",
      text: word("drop.shape_use", { near: use.near, all: use.in_column }) }));
}
