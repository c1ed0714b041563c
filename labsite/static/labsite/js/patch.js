// Refresh without stealing: keyed regions are replaced only when their content changed,
// never while they hold focus or a finger is down; what waits is applied later.

const waiting = new Map();
let fingersDown = 0;

function holdsFocus(node) {
  const active = document.activeElement;
  return Boolean(active && active !== document.body && node.contains(active));
}

function busy(node) {
  return fingersDown > 0 || holdsFocus(node);
}

function flush() {
  for (const [node, apply] of [...waiting]) {
    if (busy(node)) continue;
    waiting.delete(node);
    if (node.isConnected) apply();
  }
}

function release() {
  fingersDown = 0;
  setTimeout(flush, 0);
}

document.addEventListener("pointerdown", () => { fingersDown = 1; }, { capture: true });
for (const type of ["pointerup", "pointercancel"]) {
  document.addEventListener(type, release, { capture: true });
}
document.addEventListener("focusout", () => setTimeout(flush, 0), { capture: true });

/** Run `apply` as soon as nothing inside `node` is held. The last one asked for wins. */
export function whenFree(node, apply) {
  waiting.delete(node);
  if (busy(node)) waiting.set(node, apply);
  else apply();
}

/** Text of a small live place, untouched when it is the same. */
export function setText(node, text) {
  if (node && node.textContent !== text) whenFree(node, () => { node.textContent = text; });
}

/** Draw `node` anew when `facts` differ from those it was last drawn with. */
export function redraw(node, facts, draw) {
  const signature = JSON.stringify(facts);
  if (node.dataset.drawn === signature) {
    waiting.delete(node);
    return;
  }
  whenFree(node, () => {
    node.dataset.drawn = signature;
    draw(node, facts);
  });
}

function regionsByKey(container) {
  return new Map([...container.children].map((child) => [child.dataset.key, child]));
}

/**
 * Bring the children of `container` in line with `items`, one region a key.
 * `build(item)` makes an empty region, `draw(region, item)` fills it; it redraws only its own
 * small parts, so that a focused link does not keep the whole region from being refreshed.
 */
export function patchRegions(container, items, { key, build, draw }) {
  const regions = regionsByKey(container);
  let previous = null;
  for (const item of items) {
    const name = String(key(item));
    const region = regions.get(name) ?? build(item);
    region.dataset.key = name;
    regions.delete(name);
    const place = previous ? previous.nextSibling : container.firstChild;
    if (place !== region && !holdsFocus(region)) container.insertBefore(region, place);
    draw(region, item);
    previous = region;
  }
  for (const gone of regions.values()) whenFree(gone, () => gone.remove());
}
