// The number keys. The decimal place is fixed by the scale's division: digits shift in from the
// right (4 6 6 5 → 466.5 on a 0.5 mm scale). A typed point or comma on a keyboard fixes the
// whole part instead (466 . 5), so that neither habit gives a number ten times off.
// Nothing is ever prefilled. The pure part comes first.
import { on } from "./dom.js";
import { decimal, word } from "./words.js";

const MOST_DIGITS = 4;

export const NOTHING = Object.freeze({ digits: "", point: null });

export function placesOf(division) {
  return (String(division).split(".")[1] ?? "").length;
}

export function pushDigit(typed, digit, places) {
  if (typed.point !== null) {
    if (typed.digits.length - typed.point >= places) return typed;
    return { ...typed, digits: typed.digits + digit };
  }
  if (typed.digits.length >= MOST_DIGITS - 1 + places) return typed;
  const digits = typed.digits === "0" ? digit : typed.digits + digit;
  return { ...typed, digits };
}

export function pushPoint(typed, places) {
  if (places === 0 || typed.point !== null || typed.digits === "") return typed;
  return { ...typed, point: typed.digits.length };
}

export function dropDigit(typed) {
  if (typed.point !== null && typed.digits.length === typed.point) return { ...typed, point: null };
  return { ...typed, digits: typed.digits.slice(0, -1) };
}

/** The typed number as decimal text ("466.5"), or null while nothing stands there. */
export function valueOf({ digits, point }, places) {
  if (digits === "") return null;
  const cut = point ?? Math.max(digits.length - places, 0);
  const whole = digits.slice(0, cut).replace(/^0+(?=\d)/, "") || "0";
  const rest = digits.slice(cut);
  const fraction = point === null ? rest.padStart(places, "0") : rest.padEnd(places, "0");
  return places ? `${whole}.${fraction}` : whole;
}

/** What stands on the page while typing: after a point, places still to come show as _. */
export function shownOf(typed, places) {
  if (typed.digits === "") return "";
  if (typed.point === null) return valueOf(typed, places);
  const rest = typed.digits.slice(typed.point);
  return `${typed.digits.slice(0, typed.point)}.${rest.padEnd(places, "_")}`;
}

/** A decimal as if its digits had been typed: "455" on a 0.5 mm scale is 4 5 5 0. */
export function typedOf(value, places) {
  const [whole, rest = ""] = String(value).split(".");
  return { digits: whole + rest.padEnd(places, "0"), point: null };
}

/** One division up or down, in whole steps of the last place; never below zero. */
export function stepped(typed, direction, division) {
  const places = placesOf(division);
  const value = valueOf(typed, places);
  if (value === null) return typed;
  const unit = 10 ** places;
  const next = Math.round(Number(value) * unit) + direction * Math.round(Number(division) * unit);
  if (next < 0) return typed;
  return { digits: String(next).padStart(places + 1, "0"), point: null };
}

/** Whether the number lies on a mark of the scale. */
export function onDivision(value, division) {
  const unit = 10 ** Math.max(placesOf(division), placesOf(value));
  return Math.round(Number(value) * unit) % Math.round(Number(division) * unit) === 0;
}

/**
 * Bind keys, the big number and, while `isActive()` says so, the physical keyboard.
 * Events on `root`: "keypad-change" {value, shown} and "keypad-enter" {value}.
 */
export class Keypad {
  constructor(root, { display = null, steps = null, isActive = () => true } = {}) {
    this.root = root;
    this.display = display;
    this.isActive = isActive;
    this.setDivision(root.dataset.division);
    on(root, "click", "[data-digit]", (event, key) => this.digit(key.dataset.digit));
    on(root, "click", "[data-delete]", () => this.become(dropDigit(this.typed)));
    on(root, "click", "[data-clear]", () => this.clear());
    if (steps) on(steps, "click", "[data-step]", (event, key) => this.step(Number(key.dataset.step)));
    document.addEventListener("keydown", (event) => this.key(event));
  }

  setDivision(division) {
    this.division = division;
    this.places = placesOf(division);
    this.clear();
  }

  get value() {
    return valueOf(this.typed, this.places);
  }

  digit(digit) {
    this.become(pushDigit(this.typed, digit, this.places));
  }

  step(direction) {
    this.become(stepped(this.typed, direction, this.division));
  }

  clear() {
    this.become(NOTHING);
  }

  /** For a number that the person chose by a button of its own. */
  take(value) {
    this.become(typedOf(value, this.places));
  }

  become(typed) {
    this.typed = typed;
    this.show();
    this.tell("keypad-change");
  }

  show() {
    if (!this.display) return;
    const shown = shownOf(this.typed, this.places);
    this.display.textContent = decimal(shown);
    this.display.toggleAttribute("data-empty", shown === "");
    this.display.setAttribute("aria-label", shown ? decimal(shown) : word("keypad.empty"));
  }

  tell(type) {
    this.root.dispatchEvent(new CustomEvent(type, { bubbles: true,
      detail: { value: this.value, shown: shownOf(this.typed, this.places) } }));
  }

  key(event) {
    if (event.ctrlKey || event.metaKey || event.altKey || !this.isActive()) return;
    if (event.target.closest?.("input, textarea, select, dialog")) return;
    if (!this.press(event)) return;
    event.preventDefault();
  }

  press({ key, target }) {
    if (/^[0-9]$/.test(key)) this.digit(key);
    else if (key === "." || key === ",") this.become(pushPoint(this.typed, this.places));
    else if (key === "Backspace") this.become(dropDigit(this.typed));
    else if (key === "+") this.step(1);
    else if (key === "-") this.step(-1);
    else if (key === "Enter" && !target.closest?.("a, button, summary")) this.tell("keypad-enter");
    else return false;
    return true;
  }
}
