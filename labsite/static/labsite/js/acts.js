// Sends the acts of a page: each form names its address; what it holds becomes the JSON body.
import { change, create } from "./api.js";
import { on, readJson } from "./dom.js";
import { clearErrors, showErrors } from "./fields.js";

function instant(text) {
  const at = new Date(text);
  return Number.isNaN(at.getTime()) ? text : at.toISOString();
}

function valueOf(input) {
  const text = input.value.trim();
  if (text === "") return "clears" in input.dataset ? null : undefined;
  if (input.dataset.kind === "yes_no") return text === "true";
  if (input.dataset.kind === "instant") return instant(text);
  if (input.dataset.kind === "whole" && /^\d{1,9}$/.test(text)) return Number(text);
  return text;
}

function bodyOf(form) {
  const body = { ...readJson(form.dataset.fixed) };
  for (const input of form.querySelectorAll("[data-kind]")) {
    const value = valueOf(input);
    if (value !== undefined) body[input.name] = value;
  }
  return body;
}

function fileBody(form) {
  const body = new FormData();
  for (const input of form.querySelectorAll('[data-kind="file"]')) {
    if (input.files[0]) body.append(input.name, input.files[0]);
  }
  return body;
}

function send(form) {
  const { url, method, etag } = form.dataset;
  if (form.querySelector('[data-kind="file"]')) return create(url, fileBody(form));
  const body = bodyOf(form);
  return method === "PATCH" ? change(url, body, etag) : create(url, body, { place: url + form.id });
}

on(document, "submit", "form[data-act]", async (event, form) => {
  event.preventDefault();
  const button = form.querySelector('button[type="submit"]');
  if (button.disabled) return;
  button.disabled = true;
  clearErrors(form);
  try {
    const { data } = await send(form);
    const then = form.dataset.then.replace("{id}", data?.id ?? "");
    if (then) location.assign(then);
    else location.reload();
  } catch (error) {
    showErrors(form, error);
    button.disabled = false;
  }
});
