// What every page does: the clock runs, menus close, the network's state is told.
import "./clock.js";
import { clockTime, now, span } from "./clock.js";
import { element, mark } from "./dom.js";
import { word } from "./words.js";

function closeMenus(except) {
  for (const menu of document.querySelectorAll("details[data-menu][open]")) {
    if (!menu.contains(except)) menu.open = false;
  }
}

document.addEventListener("click", (event) => closeMenus(event.target));
document.addEventListener("keydown", (event) => {
  if (event.key !== "Escape") return;
  const menu = document.activeElement?.closest("details[data-menu][open]");
  closeMenus(null);
  menu?.querySelector("summary").focus();
});

/** For poll()'s onState: one strip that says since when, or nothing while all is fresh. */
export function showConnection({ state, since }) {
  const strip = document.querySelector("[data-connection]");
  strip.hidden = state === "fresh";
  if (strip.hidden) return strip.replaceChildren();
  const facts = { time: since ? clockTime(since) : "–", span: since ? span(now() - since) : "–" };
  const text = word(`poll.${state}`, facts);
  if (strip.textContent.trim() === text) return undefined;
  return strip.replaceChildren(element("div", { class: "banner banner-look" },
    mark("flag-look", "mark-look"), element("p", { text })));
}
