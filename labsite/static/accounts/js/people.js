// Copy what is shown once; send a form that makes something only once.

function copyBeside(button) {
  const secret = button.closest("[data-secret]").querySelector("[data-secret-text]");
  navigator.clipboard.writeText(secret.textContent).then(
    () => { button.textContent = button.dataset.copied; },
    () => { button.textContent = button.dataset.failed; },
  );
}

for (const button of document.querySelectorAll("[data-copy]")) {
  // Browsers offer the clipboard on https and localhost only.
  button.hidden = !navigator.clipboard;
  button.addEventListener("click", () => copyBeside(button));
}

for (const form of document.querySelectorAll("form[data-once]")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "yes";
  });
}

// A page taken back from the browser's memory may send its forms again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
});
