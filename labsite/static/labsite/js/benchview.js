// The bench: baths side by side, each column upright and true to scale. Drawn from one answer
// of the API and patched in place, so that a refresh takes neither focus nor scroll.
import { clockTime, now, span } from "./clock.js";
import { element, mark } from "./dom.js";
import { patchRegions, redraw, setText } from "./patch.js";
import { showTube } from "./tube.js";
import { decimal, word } from "./words.js";

function inBand(temperature) {
  if (!temperature) return word("bench.no_temperature");
  const since = temperature.since_at ?? temperature.at;
  if (temperature.band === "unknown") return word("bench.unknown", { time: clockTime(since) });
  const key = temperature.band === "in" ? "bench.in_band" : "bench.out_of_band";
  return word(key, { span: span(now() - Date.parse(since)) });
}

function buildBath(bath) {
  const box = element("section", { class: "bath", "aria-labelledby": `bath-${bath.id}` },
    element("header", { class: "bath-head" },
      element("h2", { id: `bath-${bath.id}`, text: bath.name }),
      element("p", { class: "bath-temperature" })),
    element("div", { class: "bath-columns" }));
  return box;
}

function drawBathHead(place, { temperature, text }) {
  const known = temperature && temperature.band !== "unknown";
  const flag = temperature?.band === "out" ? mark("flag-look", "mark-look") : null;
  place.classList.toggle("aged", Boolean(temperature) && !known);
  place.replaceChildren(...[flag,
    temperature && element("b", { text: decimal(temperature.temperature_c) }),
    temperature && element("span", { class: "unit", text: "\u00a0°C" }),
    element("small", { text })].filter(Boolean));
}

function buildColumn(column, urlOf) {
  return element("article", { class: "column-cell" },
    element("h3", {}, element("a", { href: urlOf(column), text: column.name })),
    element("p", { class: "column-state" }),
    element("figure", { class: "column-figure" }),
    element("p", { class: "column-foot" }));
}

function drawState(place, { state, state_word: text }) {
  place.replaceChildren(element("span", { class: "state" }, mark(`state-${state}`),
    element("span", { text })));
}

function waitingFacts(column) {
  const ready = column.tray.filter((piece) => piece.state === "ready");
  const falling = column.tray.filter((piece) => piece.state === "falling");
  const next = falling.map((piece) => piece.ready_at).filter(Boolean).sort()[0];
  const first = ready.map((piece) => piece.dropped_at).filter(Boolean).sort()[0];
  return { ready: ready.length, falling: falling.length,
    next: next ? clockTime(next) : null,
    longest: first ? span(now() - Date.parse(first)) : null };
}

function waitingLine({ ready, falling, next, longest }) {
  if (!ready && !falling) return null;
  if (!ready) return element("span", { text: next ? word("bench.next_ready", { time: next })
    : word("bench.falling", { count: falling }) });
  const rest = falling ? word("bench.falling", { count: falling }) : longest;
  return element("span", {}, element("b", { text: word("bench.ready", { count: ready }) }),
    rest ? `, ${rest}` : "");
}

/** One flag at most, and not the one that the note tells already; the column's page has all. */
function drawFoot(place, { waiting, note, flags }) {
  const line = waitingLine(waiting);
  const told = flags.some((flag) => flag.text === note);
  const flag = !told && flags[0] && element("span", { class: "flag flag-line" },
    mark(`flag-${flags[0].level}`, `mark-${flags[0].level}`), element("span", { text: flags[0].text }));
  const small = note && element("small", { text: note });
  place.replaceChildren(...[line, small, flag].filter(Boolean));
}

function drawColumn(cell, column) {
  const [, state, figure, foot] = cell.children;
  redraw(state, { state: column.state, state_word: column.state_word },
    () => drawState(state, column));
  showTube(figure, column, "bench");
  const facts = { waiting: waitingFacts(column), note: column.state_note, flags: column.flags };
  redraw(foot, facts, () => drawFoot(foot, facts));
}

function drawBath(box, bath, urlOf) {
  box.style.setProperty("--columns", Math.max(bath.columns.length, 1));
  const head = { temperature: bath.temperature, text: inBand(bath.temperature) };
  const place = box.querySelector(".bath-temperature");
  redraw(place, head, () => drawBathHead(place, head));
  patchRegions(box.querySelector(".bath-columns"), bath.columns, {
    key: (column) => column.id,
    build: (column) => buildColumn(column, urlOf),
    draw: drawColumn,
  });
}

/** Bring the bench in line with the newest answer. `urlOf(column)` leads to its page. */
export function showBaths(container, bench, urlOf) {
  patchRegions(container, bench.baths, {
    key: (bath) => bath.id,
    build: buildBath,
    draw: (box, bath) => drawBath(box, bath, urlOf),
  });
}

/** Ready pieces of the whole bench, the longest in first. */
export function readyPieces(bench) {
  return bench.baths.flatMap((bath) => bath.columns)
    .flatMap((column) => column.tray.map((piece) => ({ ...piece, column })))
    .filter((piece) => piece.state === "ready")
    .sort((a, b) => Date.parse(a.dropped_at) - Date.parse(b.dropped_at));
}

function drawReady(item, piece, urlOf) {
  const since = span(now() - Date.parse(piece.dropped_at));
  redraw(item, [piece.lot, piece.shape, piece.column.name, since], () => item.replaceChildren(element("a", { href: urlOf(piece) },
    mark(`shape-${piece.shape}`, "piece-mark piece piece-today"),
    element("span", { class: "ready-what" },
      element("b", { text: piece.lot }),
      element("small", { text: word("bench.piece_in", {
        shape: word(`shape.${piece.shape}`), column: piece.column.name }) })),
    element("b", { class: "ready-since", text: since }))));
}

export function showReady(list, bench, urlOf) {
  patchRegions(list, readyPieces(bench), {
    key: (piece) => piece.specimen,
    build: () => element("li", { class: "ready" }),
    draw: (item, piece) => drawReady(item, piece, urlOf),
  });
}

export function showCounts(root, bench) {
  setText(root.querySelector("[data-headline]"), bench.headline);
  setText(root.querySelector("[data-ready-count]"), String(bench.ready_count));
  setText(root.querySelector("[data-falling-count]"), String(bench.falling_count));
}

/** The one filled act: which piece to read next, or that there is none. */
export function showNext(act, next) {
  const facts = next && { ...next, since: span(now() - Date.parse(next.dropped_at)) };
  redraw(act, facts ?? "none", () => {
    const title = word(next ? "bench.read_next" : "bench.nothing_ready");
    const detail = next && word("bench.next_piece", { shape: word(`shape.${next.shape}`),
      lot: next.lot, column: next.column.name, span: facts.since });
    act.toggleAttribute("aria-disabled", !next);
    if (!next) act.setAttribute("aria-disabled", "true");
    act.replaceChildren(...[next && mark(`shape-${next.shape}`, "piece piece-on-act"),
      element("span", {}, element("b", { text: title }),
        detail && element("span", { class: "act-detail", text: detail }))].filter(Boolean));
  });
}
