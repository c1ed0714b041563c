// The bench page: one answer of the API every two seconds, patched into the page.
import { showBaths, showCounts, showNext, showReady } from "../../labsite/js/benchview.js";
import { element, mark, readJson } from "../../labsite/js/dom.js";
import { redraw } from "../../labsite/js/patch.js";
import { poll } from "../../labsite/js/poll.js";
import { showConnection } from "../../labsite/js/shell.js";
import { word } from "../../labsite/js/words.js";

const LEVELS = ["stop", "look"];

const facts = readJson("facts");
const places = {
  baths: document.querySelector("[data-baths]"),
  ready: document.querySelector("[data-ready]"),
  noneReady: document.querySelector("[data-none-ready]"),
  next: document.querySelector("[data-next]"),
  flags: document.querySelector("[data-flags]"),
};

function columnUrl(column) {
  return facts.column_url.replace(facts.any, column.id);
}

function pieceUrl(piece) {
  return facts.read_url ? facts.read_url.replace(facts.any, piece.specimen) : columnUrl(piece.column);
}

/** Stop before Look; the first is told, the others are counted: each stands at its column. */
function flagsOf(bench) {
  const all = bench.baths.flatMap((bath) => bath.columns)
    .flatMap((column) => column.flags.map((flag) => ({ ...flag, column })));
  return LEVELS.flatMap((level) => all.filter((flag) => flag.level === level));
}

function flagLine({ level, text, column }) {
  return element("li", {}, element("a", { class: "flag flag-line", href: columnUrl(column) },
    mark(`flag-${level}`, `mark-${level}`),
    element("span", { class: "bench-flag", text: word("bench.flag", { column: column.name, text }) })));
}

function showFlags(bench) {
  const all = flagsOf(bench);
  const shown = all.slice(0, 1).map(({ level, text, column }) => ({ level, text,
    column: { id: column.id, name: column.name } }));
  redraw(places.flags, [shown, all.length], () => {
    const rest = all.length - shown.length;
    places.flags.replaceChildren(...shown.map(flagLine),
      ...(rest ? [element("li", { class: "quiet", text: word("bench.more_flags", { count: rest }) })] : []));
  });
}

function show(bench) {
  showCounts(document, bench);
  showFlags(bench);
  showBaths(places.baths, bench, columnUrl);
  if (places.ready) {
    showReady(places.ready, bench, pieceUrl);
    places.noneReady.hidden = bench.ready_count > 0;
  }
  if (places.next) {
    showNext(places.next, bench.next);
    if (bench.next) places.next.setAttribute("href", pieceUrl(bench.next));
    else places.next.removeAttribute("href");
  }
}

poll({ url: "/api/v1/bench/", every: 2000, onData: show, onState: showConnection }).refresh();
