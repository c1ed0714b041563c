// Small things that every page module needs of the document.

const SVG = "http://www.w3.org/2000/svg";

function fill(node, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name === "text") node.textContent = value;
    else node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children.filter((child) => child !== null && child !== undefined));
  return node;
}

export function element(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function svg(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

/** A mark from the sprite of base.html: state-open, flag-stop, shape-square … */
export function mark(name, className = "") {
  return svg("svg", { class: className, "aria-hidden": "true", viewBox: "0 0 24 24" },
    svg("use", { href: `#${name}` }));
}

export function round(number) {
  return Math.round(number * 100) / 100;
}

export function readJson(id) {
  const holder = document.getElementById(id);
  return holder ? JSON.parse(holder.textContent) : null;
}

/** Listen on a container for events of what lies inside it, also when it is drawn later. */
export function on(container, type, selector, handle) {
  container.addEventListener(type, (event) => {
    const target = event.target.closest?.(selector);
    if (target && container.contains(target)) handle(event, target);
  });
}

/** Call once now and then whenever the box changes its size. Returns the way to stop. */
export function onResize(box, handle) {
  let last = "";
  const observer = new ResizeObserver(() => {
    const size = `${Math.round(box.clientWidth)}x${Math.round(box.clientHeight)}`;
    if (size === last) return;
    last = size;
    handle(box.clientWidth, box.clientHeight);
  });
  observer.observe(box);
  return () => observer.disconnect();
}

/** How many px one rem has against the usual 16: text zoom reaches drawn labels with it. */
export function textScale() {
  return parseFloat(getComputedStyle(document.documentElement).fontSize) / 16 || 1;
}
