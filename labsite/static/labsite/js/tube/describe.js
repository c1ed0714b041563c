// The drawing in words: one sentence as its name, the same facts as a list beside it.
import { element } from "../dom.js";
import { decimal, word } from "../words.js";

/** What the column does now, without anything that a blind page must not say. */
export function sentence(overview, mode) {
  if (mode === "read") return word("tube.sentence_read", { name: overview.name });
  if (mode === "set") return word("tube.sentence_set", { name: overview.name });
  const key = overview.calibration ? "tube.sentence_calibrated" : "tube.sentence";
  return word(key, {
    name: overview.name,
    state: overview.state_word,
    floats: overview.floats.length,
    pieces: overview.occupants.length,
    waiting: overview.tray.length,
  });
}

function floatFact(float) {
  if (float.height_mm === null || float.height_mm === undefined) {
    return word("tube.float_untyped", { label: float.label });
  }
  return word("tube.float_at", { label: float.label, height: decimal(float.height_mm) });
}

function pieceFact(piece) {
  const names = { lot: piece.lot, shape: word(`shape.${piece.shape}`) };
  if (piece.masked || piece.height_mm === null) return word("tube.piece_masked", names);
  const facts = { ...names, height: decimal(piece.height_mm), age: word(`age.${piece.age}`) };
  if (!piece.density_g_cm3) return word("tube.piece_at", facts);
  return word("tube.piece_density", { ...facts, density: decimal(piece.density_g_cm3) });
}

function trayFact(piece) {
  return word(`tube.tray_${piece.state}`, {
    lot: piece.lot, shape: word(`shape.${piece.shape}`),
  });
}

/** Lines of the hidden list; in read mode floats without anything else. */
export function facts(overview, mode) {
  const floats = overview.floats.map(floatFact);
  if (mode === "read" || mode === "set") return floats;
  return [
    ...overview.tray.map(trayFact), ...overview.occupants.map(pieceFact), ...floats,
    ...overview.flags.map((flag) => `${word(`flag.${flag.level}`)}: ${flag.text}`),
  ];
}

export function factList(overview, mode) {
  return element("ul", { class: "visually-hidden" },
    ...facts(overview, mode).map((fact) => element("li", { text: fact })));
}
