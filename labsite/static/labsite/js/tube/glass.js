// Glass, liquid, etched marks, floats, lid: the instrument without the pieces.
import { round as r, svg } from "../dom.js";
import { marksEvery } from "./scale.js";

let serial = 0;

function stops(list) {
  return list.map(([offset, name]) => svg("stop", { offset: r(offset * 100) / 100, class: name }));
}

function gradient(kind, across, list) {
  serial += 1;
  const id = `${kind}-${serial}`;
  const way = across ? { x1: 0, x2: 1, y1: 0, y2: 0 } : { x1: 0, x2: 0, y1: 0, y2: 1 };
  return { id, node: svg("linearGradient", { id, ...way }, ...stops(list)) };
}

function liquidPath(box) {
  const { left, right, surface, foot, sag } = box;
  const half = (right - left) / 2;
  return `M${r(left)} ${r(surface)}V${r(foot)}A${r(half)} ${r(sag)} 0 0 0 ${r(right)} ${r(foot)}`
    + `V${r(surface)}Z`;
}

function wallPath(box) {
  const { left, right, lip, foot, sag, flare } = box;
  const half = (right - left) / 2;
  return `M${r(left - flare)} ${r(lip)}Q${r(left)} ${r(lip)} ${r(left)} ${r(lip + 5)}V${r(foot)}`
    + `A${r(half)} ${r(sag)} 0 0 0 ${r(right)} ${r(foot)}V${r(lip + 5)}`
    + `Q${r(right)} ${r(lip)} ${r(right + flare)} ${r(lip)}`;
}

/** The glass as a box in px; the scale's zero lies a little above the foot. */
export function glassBox(left, glass, em) {
  const sag = glass.bore * 0.2;
  return {
    left,
    right: left + glass.bore,
    lip: glass.top - 14 * em,
    surface: glass.top,
    foot: glass.bottom + 2 * em,
    sag,
    flare: Math.max(2.5, glass.bore * 0.09),
    zero: glass.bottom,
  };
}

/** How far the drawing reaches below the scale's lower end. */
export function footDepth(bore, em) {
  return bore * 0.2 + 4 * em;
}

function drawLiquid(box, liquid, defs) {
  if (liquid.kind === "none") return null;
  const path = { d: liquidPath(box) };
  if (liquid.kind === "flat") return svg("path", { ...path, class: "tube-flat" });
  const fill = gradient("liquid", false,
    liquid.stops.map((stop) => [liquidOffset(box, stop.offset), `l${stop.tone}`]));
  defs.append(fill.node);
  return svg("path", { ...path, fill: `url(#${fill.id})` });
}

/** Offsets are given from surface to scale zero; the path reaches on into the foot. */
function liquidOffset(box, offset) {
  return (offset * (box.zero - box.surface)) / (box.foot + box.sag - box.surface);
}

function drawShine(box, defs) {
  const light = gradient("shine", true, [[0, "shine-0"], [0.5, "shine-1"], [1, "shine-0"]]);
  const shade = gradient("shade", true, [[0, "shade-0"], [1, "shade-1"]]);
  defs.append(light.node, shade.node);
  const width = box.right - box.left;
  const tall = { y: r(box.lip + 8), height: r(box.foot - box.lip - 8) };
  return [
    svg("rect", { x: r(box.left + width * 0.05), width: r(width * 0.2), ...tall,
      fill: `url(#${light.id})` }),
    svg("rect", { x: r(box.right - width * 0.24), width: r(width * 0.24), ...tall,
      fill: `url(#${shade.id})` }),
  ];
}

function drawSurface(box) {
  const half = (box.right - box.left) / 2;
  return svg("ellipse", { class: "tube-surface", cx: r(box.left + half), cy: r(box.surface),
    rx: r(half), ry: r(Math.max(1.6, half * 0.13)) });
}

function drawLid(box, em) {
  const over = box.flare + 3;
  return svg("rect", { class: "tube-lid", x: r(box.left - over), y: r(box.lip - 3 * em),
    width: r(box.right - box.left + 2 * over), height: r(5 * em), rx: r(2 * em) });
}

/** Etched marks grow from the left wall: 100, 50 and, where there is room, 10 mm. */
function etchPath(step, share, box, scale, y) {
  const width = (box.right - box.left) * share;
  return marksEvery(step, scale)
    .map((above) => `M${r(box.left)} ${r(y(above))}h${r(width)}`).join("");
}

function drawEtching(box, scale, y, fine) {
  return [
    fine && svg("path", { class: "tube-etch tube-etch-fine",
      d: etchPath(10, 0.13, box, scale, y) }),
    svg("path", { class: "tube-etch tube-etch-fine", d: etchPath(50, 0.22, box, scale, y) }),
    svg("path", { class: "tube-etch", d: etchPath(100, 0.32, box, scale, y) }),
  ].filter(Boolean);
}

/** A glass sphere: ring, clear middle, one short highlight. */
export function drawFloat(x, y, radius, label) {
  const arc = radius * 0.58;
  return svg("g", { "data-float": label },
    svg("circle", { class: "tube-float", cx: r(x), cy: r(y), r: r(radius) }),
    svg("path", { class: "tube-glint",
      d: `M${r(x - arc)} ${r(y - 0.3)}A${r(arc)} ${r(arc)} 0 0 1 ${r(x - 0.3)} ${r(y - arc)}` }));
}

/** Dashed lines across the glass, a little wider than it, where its scale can still be read. */
export function drawReadableLimits(box, scale, y, above) {
  const d = [scale.low, scale.high]
    .map((printed) => `M${r(box.left - 3)} ${r(y(above(printed)))}H${r(box.right + 3)}`).join("");
  return svg("path", { class: "tube-limit", d });
}

export function drawGlass({ box, scale, y, liquid, em, lid, planned, fine, defs }) {
  const wall = planned ? "tube-wall tube-dashed" : "tube-wall";
  return [
    drawLiquid(box, liquid, defs),
    ...drawShine(box, defs),
    ...drawEtching(box, scale, y, fine),
    svg("path", { class: wall, d: wallPath(box) }),
    liquid.kind === "none" ? null : drawSurface(box),
    lid ? drawLid(box, em) : null,
  ].filter(Boolean);
}
