// Somebody else was faster: both values side by side, a choice, and no default.
import { clockTime } from "../../../labsite/js/clock.js";
import { element } from "../../../labsite/js/dom.js";
import { decimal, word } from "../../../labsite/js/words.js";

function told(value) {
  if (value.masked) return word("read.hidden");
  if (!value.height_mm) return word(`outcome.${value.outcome}`);
  return `${decimal(value.height_mm)} ${word("unit.height")}`;
}

function show(dialog, first, own) {
  const facts = { name: first.read_by, time: clockTime(first.read_at) };
  dialog.querySelector("[data-faster-title]").textContent = word("read.faster", facts);
  dialog.querySelector("[data-faster-values]").replaceChildren(
    element("dt", { text: word("read.first_value", facts) }), element("dd", { text: told(first) }),
    element("dt", { text: word("read.own_value") }), element("dd", { text: told(own) }));
}

/** Gives "first" or "both", or null when the person closed it to think again. */
export function askWhich(dialog, first, own) {
  show(dialog, first, own);
  dialog.showModal();
  return new Promise((resolve) => {
    const end = (choice) => { dialog.close(); resolve(choice); };
    dialog.querySelector("[data-keep-first]").onclick = () => end("first");
    dialog.querySelector("[data-keep-both]").onclick = () => end("both");
    dialog.oncancel = () => resolve(null);
  });
}
