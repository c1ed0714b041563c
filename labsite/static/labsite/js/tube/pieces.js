// Specimens: in the liquid where they were read, above the mouth while they were not.
import { round as r, svg } from "../dom.js";
import { assignLanes } from "./labels.js";

export const SHAPES = ["square", "triangle", "bar", "disc", "notched", "tee"];

/** One piece, centred; the shapes are symbols of the page's sprite. */
export function drawPiece(shape, x, y, size, kind) {
  return svg("use", {
    href: `#shape-${shape}`, class: `piece piece-${kind}`,
    x: r(x - size / 2), y: r(y - size / 2), width: r(size), height: r(size),
  });
}

/** Pieces that have a place, with px coordinates in two lanes right of the floats. */
export function placePieces(occupants, box, y, size) {
  const seen = occupants.filter((piece) => piece.above_bottom_mm !== null
    && piece.above_bottom_mm !== undefined);
  const ys = seen.map((piece) => y(piece.above_bottom_mm));
  const lanes = assignLanes(ys, size);
  const width = box.right - box.left;
  const shares = [0.58, 0.83];
  return seen.map((piece, index) => ({
    ...piece, x: box.left + width * shares[lanes[index]], y: ys[index],
  }));
}

export function drawPieces(placed, size, grey = false) {
  return placed.map((piece) =>
    drawPiece(piece.shape, piece.x, piece.y, size, grey ? "grey" : piece.age));
}

/** The tray above the mouth: dashed while falling, solid when ready. */
export function drawTray(tray, { centre, y, size, room }) {
  const step = size * 1.45;
  const most = Math.max(1, Math.floor(room / step));
  const shown = tray.length > most ? tray.slice(0, most - 1) : tray;
  const start = centre - ((Math.min(tray.length, most) - 1) * step) / 2;
  const marks = shown.map((piece, index) => drawPiece(piece.shape, start + index * step, y, size,
    piece.state === "falling" ? "falling" : "today"));
  if (shown.length < tray.length) {
    marks.push(svg("text", { class: "tube-label tube-middle", x: r(start + shown.length * step),
      y: r(y + size * 0.3), text: `+${tray.length - shown.length}` }));
  }
  return marks;
}
