// The lines of a float set: the bath's temperature, then every float, lightest first.
import { element, mark } from "../../../labsite/js/dom.js";
import { NOTHING, onDivision } from "../../../labsite/js/keypad.js";
import { decimal, plain, word } from "../../../labsite/js/words.js";

const TEMPERATURE_DIVISION = "0.01";

function temperatureRow(sheet, amended) {
  return { id: "temperature", kind: "temperature", division: TEMPERATURE_DIVISION,
    label: word("set.temperature", { bath: sheet.bath.name }), typed: NOTHING, value: null,
    was: amended ? amended.bath_temperature_c : null, reason: "" };
}

function floatRow(float, sheet, before) {
  return { ...float, kind: "float", division: sheet.scale.division_mm, typed: NOTHING, value: null,
    was: before?.height_mm ? plain(before.height_mm) : null, reason: before?.missing_reason ?? "",
    before };
}

/** Rows to fill; with an amended set its values stand beside as "was". */
export function rowsOf(sheet, amended) {
  const before = new Map((amended?.heights ?? []).map((row) => [row.calibration_float, row]));
  const floats = amended ? sheet.floats.filter((float) => before.has(float.id)) : sheet.floats;
  return [temperatureRow(sheet, amended),
    ...floats.map((float) => floatRow(float, sheet, before.get(float.id)))];
}

export function valueOf(row) {
  return row.value ?? (row.reason ? null : row.was);
}

export function isDone(row) {
  return Boolean(valueOf(row) || row.reason);
}

/** A quarantined float may be left out; everything else is read or explained. */
export function isMissing(row) {
  return !isDone(row) && !row.is_quarantined;
}

/** What is odd about a typed height before anything is saved; null when nothing is. */
export function doubtAbout(row, scale) {
  if (row.kind !== "float" || row.value === null) return null;
  const facts = { value: decimal(row.value), length: decimal(scale.length_mm),
    division: decimal(scale.division_mm) };
  if (Number(row.value) > Number(scale.length_mm)) return word("set.off_scale", facts);
  return onDivision(row.value, row.division) ? null : word("set.off_division", facts);
}

export function aboveBottom(value, scale) {
  const height = Number(value);
  return scale.origin === "top" ? Number(scale.length_mm) - height : height;
}

function noteOf(row) {
  if (row.reason) return word("set.not_there", { reason: row.reason });
  if (row.is_quarantined) return word("set.quarantined");
  if (row.kind === "float" && !row.has_valid_certificate) return word("set.no_certificate");
  const changed = row.was && row.value !== null;
  return changed ? word("set.was", { value: decimal(row.was) }) : "";
}

function numberOf(row, shown) {
  if (row.value !== null || shown) return decimal(shown || row.value);
  return row.was && !row.reason ? decimal(row.was) : "";
}

/** One line as a button: it becomes the one that the keys write into. */
export function drawRow(place, row, { active, shown, error }) {
  const kept = row.value === null && row.was && !row.reason;
  const button = element("button", { type: "button", class: "set-row", "data-row": row.id,
    "aria-current": active ? "true" : null },
  mark(row.kind === "float" ? "key-float" : "state-settling", "set-mark"),
  element("b", { text: row.label }),
  element("span", { class: "set-density", text: row.density_g_cm3 ? decimal(row.density_g_cm3) : "" }),
  element("span", { class: "set-note", text: noteOf(row) }),
  element("span", { class: `set-height${kept ? " aged" : ""}`, text: numberOf(row, active ? shown : "") }));
  place.replaceChildren(...[button, error && element("p", { class: "field-error" },
    mark("flag-stop", "mark-stop"), element("span", { text: error }))].filter(Boolean));
}
