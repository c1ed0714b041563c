// The server's clock. A tablet's own clock may be wrong by hours; it is never shown.
import { word } from "./words.js";

let offsetMs = 0;

export function setServerTime(iso) {
  offsetMs = Date.parse(iso) - Date.now();
}

export function now() {
  return new Date(Date.now() + offsetMs);
}

export function zone() {
  return document.documentElement.dataset.zone || undefined;
}

/** The page's language; plain English writes its dates as the server does, day first. */
export function language() {
  const { lang } = document.documentElement;
  return lang === "en" ? "en-GB" : lang || undefined;
}

export function clockTime(at) {
  return new Intl.DateTimeFormat(language(), {
    hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone: zone(),
  }).format(new Date(at));
}

export function dayAndTime(at) {
  return new Intl.DateTimeFormat(language(), {
    day: "numeric", month: "short", hour: "2-digit", minute: "2-digit",
    hourCycle: "h23", timeZone: zone(),
  }).format(new Date(at));
}

/** "38 min", "3 h 10", "9 d": a span in the words of the bench. */
export function span(ms) {
  const minutes = Math.max(0, Math.floor(ms / 60000));
  if (minutes < 60) return word("time.minutes", { minutes });
  if (minutes >= 600 && minutes < 48 * 60) {
    return word("time.whole_hours", { hours: Math.floor(minutes / 60) });
  }
  if (minutes < 600) {
    const rest = String(minutes % 60).padStart(2, "0");
    return word("time.hours", { hours: Math.floor(minutes / 60), minutes: rest });
  }
  return word("time.days", { days: Math.floor(minutes / (24 * 60)) });
}

export function sinceText(at) {
  return word("time.ago", { span: span(now() - Date.parse(at)) });
}

function tick() {
  const text = clockTime(now());
  for (const place of document.querySelectorAll("[data-clock]")) {
    if (place.textContent !== text) place.textContent = text;
  }
}

const started = document.querySelector("[data-server-time]");
if (started) {
  setServerTime(started.dataset.serverTime);
  setInterval(tick, 1000);
}
