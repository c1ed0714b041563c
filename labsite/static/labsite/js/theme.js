// Runs before the first paint, as a classic script: the chosen theme must not flash.
(function chooseTheme() {
  const KEY = "restheight-theme";
  const root = document.documentElement;

  function stored() {
    try {
      return localStorage.getItem(KEY);
    } catch {
      return null;
    }
  }

  function apply(choice) {
    if (choice === "light" || choice === "dark") root.dataset.theme = choice;
    else delete root.dataset.theme;
  }

  function show() {
    const choice = stored() ?? "system";
    for (const input of document.querySelectorAll("[data-theme-choice]")) {
      input.checked = input.value === choice;
    }
  }

  apply(stored());
  document.addEventListener("DOMContentLoaded", show);
  document.addEventListener("change", (event) => {
    if (!event.target.matches?.("[data-theme-choice]")) return;
    try {
      localStorage.setItem(KEY, event.target.value);
    } catch {
      // a private window keeps no choice; the theme still changes for this page
    }
    apply(event.target.value);
    document.dispatchEvent(new CustomEvent("theme-changed"));
  });
})();
