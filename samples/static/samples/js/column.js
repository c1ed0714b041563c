// One column: its floats through time, drawn large, and the same facts as tables.
import { get } from "../../labsite/js/api.js";
import { clockTime, dayAndTime } from "../../labsite/js/clock.js";
import { element, mark, readJson } from "../../labsite/js/dom.js";
import { redraw, setText } from "../../labsite/js/patch.js";
import { poll } from "../../labsite/js/poll.js";
import { showConnection } from "../../labsite/js/shell.js";
import { showTube } from "../../labsite/js/tube.js";
import { decimal, plain, word } from "../../labsite/js/words.js";
import { showHistory } from "./column/history.js";
import { pieceRows, setRows } from "./column/tables.js";

const facts = readJson("facts");
const at = (name) => document.querySelector(`[data-${name}]`);
let known = null; // which fill and set the history was loaded for

function measuresLine({ calibration, floats, state_note: note, flags }) {
  if (!calibration) return flags.some((flag) => flag.text === note) ? "" : note;
  const densities = floats.map((float) => float.density_g_cm3).sort();
  return word("column.measures", { low: decimal(plain(densities[0], 4)),
    high: decimal(plain(densities.at(-1), 4)), time: clockTime(calibration.valid_until_at) });
}

function showHead(seen) {
  redraw(at("state"), [seen.state, seen.state_word], (place) => place.replaceChildren(
    element("span", { class: "state" }, mark(`state-${seen.state}`),
      element("span", { text: seen.state_word }))));
  setText(at("measures"), measuresLine(seen));
  const { temperature } = seen.bath;
  setText(at("temperature"), temperature ? `${decimal(temperature.temperature_c)}\u00a0°C` : "–");
}

function flag({ level, text }) {
  return element("li", { class: "flag flag-line" }, mark(`flag-${level}`, `mark-${level}`),
    element("span", { text }));
}

function figure(name, value, note) {
  return element("li", { text: name }, element("b", { text: value }), note);
}

function figuresOf({ calibration, fill }, set) {
  const lines = [];
  if (fill?.age_days !== null && fill) {
    lines.push(figure(word("column.fill"), word("column.day", { day: fill.age_days }), fill.pair));
  }
  if (!set) return lines;
  const read = word("column.read_by", { time: dayAndTime(set.read_at), name: set.read_by.name });
  lines.push(figure(word("column.float_set"), read, calibration
    ? word("column.valid", { time: clockTime(calibration.valid_until_at) }) : word("column.not_in_force")));
  const shown = set.calibration?.shown;
  if (shown?.sensitivity_g_cm3_per_mm) {
    lines.push(figure(word("column.sensitivity"), decimal(shown.sensitivity_g_cm3_per_mm),
      word("column.sensitivity_unit")));
  }
  return lines;
}

function showSet(seen, set) {
  redraw(at("figures"), [seen.fill, seen.calibration, set?.id], (place) =>
    place.replaceChildren(...figuresOf(seen, set)));
  setText(at("set-line"), set ? word("column.set_line", { time: dayAndTime(set.read_at),
    name: set.read_by.name, temperature: decimal(set.bath_temperature_c) }) : word("column.no_set"));
  redraw(at("set-rows"), set?.id ?? null, (place) => place.replaceChildren(...setRows(set)));
  redraw(at("set-findings"), set?.id ?? null, (place) => place.replaceChildren(
    ...(set?.calibration?.shown.findings ?? []).map(({ level, message }) => flag({ level, text: message }))));
  const amend = at("amend");
  if (amend && set) {
    amend.hidden = false;
    amend.querySelector("a").href = readJson("amend-url").replace(facts.any, set.id);
  }
}

async function setsOf(fill) {
  if (!fill) return { sets: [], passes: [] };
  const [sets, passes] = await Promise.all([
    get(`/api/v1/float-sets/?fill=${fill.id}&present=true&page_size=200`),
    get(`/api/v1/basket-passes/?fill=${fill.id}&page_size=200`),
  ]);
  const byTime = (a, b) => Date.parse(a.read_at) - Date.parse(b.read_at);
  return { sets: sets.data.results.sort(byTime), passes: passes.data.results };
}

async function refreshSets(seen) {
  const signature = JSON.stringify([seen.fill?.id, seen.calibration?.float_set, seen.floats]);
  if (!known || known.signature !== signature) known = { signature, ...(await setsOf(seen.fill)) };
  showSet(seen, known.sets.at(-1) ?? null);
  showHistory(at("history"), { overview: seen, sets: known.sets, passes: known.passes }, at("tube"));
}

function show(seen) {
  showHead(seen);
  const told = seen.flags.filter((each) => each.level !== "know");
  redraw(at("flags"), told, (place) => place.replaceChildren(...told.map(flag)));
  showTube(at("tube"), seen, "column");
  redraw(at("piece-rows"), [seen.tray, seen.occupants], (place) =>
    place.replaceChildren(...pieceRows(seen)));
  at("no-pieces").hidden = seen.tray.length + seen.occupants.length > 0;
  refreshSets(seen).catch(() => {}); // told by the strip of the connection; the next round asks again
}

poll({ url: `/api/v1/columns/${facts.column}/overview/`, every: 5000, onData: show,
  onState: showConnection }).refresh();
