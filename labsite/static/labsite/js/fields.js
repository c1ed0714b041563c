// Words of an ApiError at the fields they belong to.
import { element, mark } from "./dom.js";
import { word } from "./words.js";

function textOf(messages) {
  if (typeof messages === "string") return messages;
  if (Array.isArray(messages)) return messages.map(textOf).join(" ");
  return Object.values(messages).map(textOf).join(" ");
}

export function clearErrors(form) {
  for (const shown of form.querySelectorAll("[data-error-of]")) shown.remove();
  for (const input of form.querySelectorAll("[aria-invalid]")) {
    input.removeAttribute("aria-invalid");
    if (input.dataset.describedby) input.setAttribute("aria-describedby", input.dataset.describedby);
    else input.removeAttribute("aria-describedby");
  }
}

function showAt(input, name, text) {
  const id = `error-${name}`;
  const box = input.closest(".field") ?? input.parentElement;
  input.setAttribute("aria-invalid", "true");
  input.dataset.describedby ??= input.getAttribute("aria-describedby") ?? "";
  input.setAttribute("aria-describedby", `${input.dataset.describedby} ${id}`.trim());
  box.append(element("p", { class: "field-error", id, "data-error-of": name },
    mark("flag-stop", "mark-stop"), element("span", { text })));
}

function showAbove(form, text, code) {
  form.prepend(element("div", { class: "banner banner-stop", role: "alert", "data-error-of": "" },
    mark("flag-stop", "mark-stop"),
    element("div", {}, element("p", { text }),
      element("small", { class: "quiet", text: word("api.code", { code }) }))));
}

/** Returns the first field that needs another look, focused; null when none is named. */
export function showErrors(form, error) {
  clearErrors(form);
  const rest = [];
  let first = null;
  for (const [name, messages] of Object.entries(error.fields ?? {})) {
    const input = form.elements?.namedItem(name) ?? form.querySelector(`[data-field="${name}"]`);
    if (input instanceof Element) {
      showAt(input, name, textOf(messages));
      first ??= input;
    } else rest.push(textOf(messages));
  }
  if (!first || rest.length) showAbove(form, [error.message, ...rest].join(" "), error.code);
  first?.focus();
  return first;
}
