// Each float's height through the life of the fill, on the drawn column's own axis: the eye
// carries a line into its float.
import { language, now, zone } from "../../../labsite/js/clock.js";
import { onResize, round as r, svg, textScale } from "../../../labsite/js/dom.js";
import { redraw } from "../../../labsite/js/patch.js";
import { layOut } from "../../../labsite/js/tube.js";
import { word } from "../../../labsite/js/words.js";

const LEFT = 8;
const DAY_MS = 24 * 3600 * 1000;

function dateText(at) {
  return new Intl.DateTimeFormat(language(),
    { day: "numeric", month: "short", timeZone: zone() }).format(at);
}

/** At most `most` dates between start and end, whole days apart. */
export function ticks(start, end, most) {
  const days = Math.max((end - start) / DAY_MS, 1);
  const step = Math.max(Math.ceil(days / most), 1) * DAY_MS;
  const found = [];
  for (let at = end; at >= start; at -= step) found.unshift(at);
  return found;
}

function heightsByFloat(sets, aboveBottom) {
  const series = new Map();
  for (const set of sets) {
    for (const row of set.heights) {
      if (row.height_mm === null) continue;
      if (!series.has(row.label)) series.set(row.label, []);
      series.get(row.label).push({ at: Date.parse(set.read_at), above: aboveBottom(row.height_mm) });
    }
  }
  return series;
}

function lineOf(points, x, y) {
  const path = points.map(({ at, above }, index) => `${index ? "L" : "M"}${r(x(at))} ${r(y(above))}`);
  return [svg("path", { class: "history-line", d: path.join("") }),
    ...points.map(({ at, above }) => svg("circle", { class: "history-dot", cx: r(x(at)), cy: r(y(above)), r: 1.8 }))];
}

function axis(marks, x, bottom, em) {
  return marks.flatMap((at, index) => [
    svg("path", { class: "tube-axis", d: `M${r(x(at))} ${r(bottom)}v${r(5 * em)}` }),
    svg("text", { class: index === marks.length - 1 ? "tube-number tube-end" : "tube-number tube-middle",
      x: r(x(at)), y: r(bottom + 18 * em) }, document.createTextNode(dateText(at)))]);
}

function limits(lay, scale, width) {
  return [scale.readable_low_mm, scale.readable_high_mm].map((printed) => {
    const above = scale.origin === "top" ? Number(scale.length_mm) - Number(printed) : Number(printed);
    return svg("path", { class: "tube-limit", d: `M${LEFT} ${r(lay.y(above))}H${r(width)}` });
  });
}

function draw(figure, { overview, sets, passes }, tube) {
  const [width, height] = [figure.clientWidth, tube.clientHeight];
  const lay = layOut(overview, { mode: "column", width: tube.clientWidth, height, em: textScale() });
  const start = Date.parse(overview.fill.poured_at);
  const end = now().getTime();
  const x = (at) => LEFT + ((at - start) / Math.max(end - start, 1)) * (width - LEFT - 4);
  const above = (printed) => (overview.scale.origin === "top"
    ? Number(overview.scale.length_mm) - Number(printed) : Number(printed));
  const bottom = lay.glass.bottom;
  const marks = ticks(start, end, Math.max(Math.floor(width / (64 * lay.em)), 2)).filter((at) => x(at) > 24);
  figure.replaceChildren(svg("svg", { class: "tube history", role: "img", width, height,
    viewBox: `0 0 ${width} ${height}`, "aria-label": word("column.history", { sets: sets.length }) },
  ...limits(lay, overview.scale, width),
  ...passes.map((pass) => svg("path", { class: "history-pass",
    d: `M${r(x(Date.parse(pass.started_at)))} ${r(lay.glass.top)}V${r(bottom)}` })),
  ...[...heightsByFloat(sets, above).values()].flatMap((points) => lineOf(points, x, lay.y)),
  svg("path", { class: "tube-axis", d: `M${LEFT} ${r(bottom)}H${r(width - 4)}` }),
  ...axis(marks, x, bottom, lay.em)));
}

const shown = new WeakMap();

export function showHistory(figure, facts, tube) {
  figure.hidden = !facts.overview.fill?.poured_at || facts.sets.length === 0;
  if (figure.hidden) return;
  const first = !shown.has(figure);
  shown.set(figure, facts);
  const seen = [facts.overview.scale, facts.overview.fill, facts.sets.map((set) => set.id), facts.passes.length];
  redraw(figure, seen, () => draw(figure, shown.get(figure), tube));
  if (first) onResize(figure.parentElement, () => draw(figure, shown.get(figure), tube));
}
