// The drawn column: from the overview object to one SVG, true to scale. Everything that has a
// height stands on the same vertical axis. Modes:
//   bench   thin: scale numbers, floats, pieces, lots at the right
//   column  large: float names and heights left, densities and lots right, lens on a crowd
//   read    blind: heights and float names only, gaps are buttons
//   set     only the heights typed so far
import { element, onResize, round as r, svg, textScale } from "./dom.js";
import { redraw } from "./patch.js";
import { drawDensityAxis, drawFloatLabels, drawLotLabels, drawScaleNumbers, drawStretch }
  from "./tube/axes.js";
import { factList, sentence } from "./tube/describe.js";
import { gapLayer, markGap } from "./tube/gaps.js";
import { drawFloat, drawGlass, drawReadableLimits, footDepth, glassBox } from "./tube/glass.js";
import { lensFor, outside } from "./tube/lens.js";
import { drawPieces, drawTray, placePieces } from "./tube/pieces.js";
import { rampStops, typedStops } from "./tube/ramp.js";
import { aboveBottom, fitGlass, placeOn, readScale } from "./tube/scale.js";
import { word } from "./words.js";

const DRY = new Set(["planned", "drained", "empty"]);
const LIDDED = new Set(["closed", "settling", "on_hold"]);

/** Widths of what stands beside the glass, by mode and by the room there is. */
export function columnsFor(mode, width, em) {
  if (mode === "bench") {
    const numbers = width >= 104 * em ? 30 * em : 0;
    const lots = width >= 124 * em;
    return { left: numbers ? 31 * em : 0, numbers, strip: 6 * em, right: lots ? 63 * em : 8 * em,
      lots, floats: null, densities: false, fine: false, ring: 4.6, piece: 7,
      tray: numbers ? 13 : 9 };
  }
  const big = { numbers: 34 * em, ring: 6.8, piece: 10, tray: 18, fine: true };
  if (mode === "read") {
    return { ...big, left: Math.max(40 * em, width * 0.3), strip: 0, right: 96 * em, lots: false,
      floats: "right", densities: false };
  }
  if (mode === "set") {
    return { ...big, left: 34 * em, strip: 0, right: (width < 150 * em ? 36 : 54) * em,
      lots: false, floats: "right", densities: false, short: width < 150 * em };
  }
  const roomy = width >= 520 * em;
  return { ...big, left: (roomy ? 160 : 44) * em, strip: 9 * em, right: (roomy ? 250 : 90) * em,
    lots: roomy, floats: roomy ? "left" : null, densities: true };
}

function liquidOf(overview, mode, scale) {
  if (DRY.has(overview.state) && mode !== "set") return { kind: "none" };
  const profile = overview.calibration?.profile ?? [];
  const stops = mode === "set" ? typedStops(overview.floats, scale.length)
    : rampStops(profile, scale.length);
  return stops.length > 1 ? { kind: "shaded", stops } : { kind: "flat" };
}

function endsOf(overview) {
  const heights = (overview.calibration?.profile ?? []).map((point) => point.above_bottom_mm);
  return heights.length ? { low: Math.min(...heights), high: Math.max(...heights) } : null;
}

/** All px of one drawing. */
export function layOut(overview, { mode, width, height, em = 1 }) {
  const scale = readScale(overview.scale);
  const cols = columnsFor(mode, width, em);
  const top = (mode === "set" ? 24 : 18 + 1.4 * cols.tray) * em;
  const room = width - cols.left - cols.right;
  const foot = footDepth((height * scale.bore) / scale.length, em);
  const glass = fitGlass({ width: Math.max(room, 12), height, top, foot, scale });
  const spare = Math.max(0, room - glass.bore - cols.strip * 2);
  const centred = mode === "bench" && cols.lots ? 0 : spare / 2;
  const box = glassBox(cols.left + (mode === "read" ? 0 : centred), glass, em);
  return { scale, cols, glass, box, y: placeOn(glass), em, width, height,
    room: { low: glass.top - 12 * em, high: glass.bottom + 12 * em } };
}

function placedFloats(overview) {
  return overview.floats.filter((float) => float.above_bottom_mm !== null
    && float.above_bottom_mm !== undefined);
}

function drawInstrument(overview, mode, lay, defs) {
  const { scale, box, y, em, cols } = lay;
  const calm = mode === "read" || mode === "set";
  const lid = !calm && LIDDED.has(overview.state);
  const uncalibrated = !calm && !overview.calibration && !DRY.has(overview.state);
  const body = svg("g", { class: uncalibrated || lid ? "tube-faint" : "" },
    ...drawGlass({ box, scale, y, em, lid, defs, liquid: liquidOf(overview, mode, scale),
      planned: overview.state === "planned", fine: cols.fine }));
  const x = box.left + (box.right - box.left) * 0.29;
  body.append(...placedFloats(overview).map((float) =>
    drawFloat(x, y(float.above_bottom_mm), cols.ring * em, float.label)));
  body.append(drawReadableLimits(box, scale, y, (printed) => aboveBottom(printed, scale)));
  return [body];
}

function floatLabels(overview, mode, lay) {
  const { cols, box, y, em, room } = lay;
  if (!cols.floats) return [];
  const left = cols.floats === "left";
  const reach = mode === "set" ? 10 : 34;
  return drawFloatLabels(placedFloats(overview), {
    side: cols.floats, y, em, room, heights: mode === "column", short: cols.short,
    wall: left ? box.left - 2 : box.right + 3,
    bend: left ? box.left - cols.numbers - 6 * em : box.right + reach * 0.4 * em,
    at: left ? box.left - cols.numbers - (mode === "column" ? 68 : 24) * em
      : box.right + reach * em,
  });
}

function besideGlass(overview, mode, lay, placed) {
  const { cols, box, y, em, scale, room } = lay;
  const nodes = [];
  let x = box.right + 8 * em;
  if (cols.strip) {
    nodes.push(...drawStretch(x, cols.strip, { ends: endsOf(overview), scale, y }));
    x += cols.strip + 6 * em;
  }
  const profile = overview.calibration?.profile ?? [];
  const axis = cols.densities && profile.length > 1
    ? drawDensityAxis(x + 10 * em, profile, { y, em, title: word("unit.density") }) : [];
  if (axis.length) x += 66 * em;
  if (!cols.lots || !placed.length) return [...nodes, ...axis];
  const lens = mode === "column" ? lensFor(placed, lay) : null;
  const labels = drawLotLabels(outside(placed, lens), { em, room, size: (mode === "bench" ? 9 : 12) * em,
    bend: x - 4 * em, at: x + 12 * em, grown: mode === "column", lens });
  lay.labelsFit = labels.fits;
  return [...nodes, ...labels.nodes, ...axis];
}

/** One SVG for one overview; `lay` comes from layOut. */
export function drawTube(overview, { mode = "bench", lay }) {
  const { cols, box, y, em, scale } = lay;
  const defs = svg("defs");
  const placed = placePieces(overview.occupants ?? [], box, y, cols.piece * em);
  const blind = mode === "read" || mode === "set";
  const nodes = drawInstrument(overview, mode, lay, defs);
  nodes.push(...floatLabels(overview, mode, lay));
  if (cols.numbers) nodes.push(...drawScaleNumbers(box.left - 6 * em, scale, y, em));
  if (!blind) nodes.push(...besideGlass(overview, mode, lay, placed));
  if (mode !== "set") nodes.push(...drawPieces(placed, cols.piece * em, blind));
  if (!blind) {
    nodes.push(...drawTray(overview.tray, { centre: (box.left + box.right) / 2,
      y: box.lip - cols.tray * 0.85 * em, size: cols.tray * em, room: trayRoom(lay) }));
  }
  return svg("svg", { class: `tube tube-${mode}`, role: "img", width: r(lay.width),
    height: r(lay.height), viewBox: `0 0 ${r(lay.width)} ${r(lay.height)}`,
    "aria-label": sentence(overview, mode) }, defs, ...nodes.filter(Boolean));
}

function trayRoom({ box, width }) {
  const centre = (box.left + box.right) / 2;
  return 2 * Math.min(centre, width - centre) + 8;
}

function drawInto(figure, overview, mode) {
  const [width, height] = [figure.clientWidth, figure.clientHeight];
  if (width < 20 || height < 60) return;
  const lay = layOut(overview, { mode, width, height, em: textScale() });
  const parts = [drawTube(overview, { mode, lay }), factList(overview, mode)];
  const chosen = figure.querySelector('.gap[aria-pressed="true"]')?.dataset;
  if (mode === "read") parts.push(gapLayer(overview, { y: lay.y, top: 0, bottom: height, start: lay.box.right + 8 }));
  figure.replaceChildren(...parts);
  if (chosen) markGap(figure, chosen.upper, chosen.lower);
}

const figures = new WeakMap();

/**
 * Keep `figure` drawn: now, on each call with newer facts, and when its box changes its size.
 * A blind drawing holds buttons, so it waits while one of them has the focus.
 */
export function showTube(figure, overview, mode = "bench") {
  figure.classList.add("tube-figure");
  const known = figures.get(figure) ?? {};
  figures.set(figure, { ...known, overview, mode });
  redraw(figure, [mode, overview], () => drawInto(figure, overview, mode));
  if (known.watched) return;
  figures.get(figure).watched = true;
  onResize(figure, () => {
    const { overview: latest, mode: drawn } = figures.get(figure);
    drawInto(figure, latest, drawn);
  });
}

/** A figure that is not yet on the page. */
export function tubeFigure(overview, mode) {
  const figure = element("figure", { class: `tube-figure tube-box-${mode}` });
  showTube(figure, overview, mode);
  return figure;
}
