// Small makers of elements and the geometry of rings.

const SVG = "http://www.w3.org/2000/svg";

function element(tag, attributes = {}, ...children) {
  const node = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (name.startsWith("on")) node.addEventListener(name.slice(2), value);
    else if (value !== false && value != null) node.setAttribute(name, value === true ? "" : value);
  }
  node.append(...children);
  return node;
}

function drawn(tag, attributes = {}) {
  const node = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) node.setAttribute(name, value);
  return node;
}

function button(label, act, attributes = {}) {
  return element("button", { type: "button", onclick: act, ...attributes }, label);
}

function setText(node, text) {
  if (node.textContent !== text) node.textContent = text;
}

// A size is not broken over two lines.
const unbroken = (text) =>
  text
    .replaceAll(" ± ", "\u00a0±\u00a0")
    .replace(/(\d) (?=\d+\/\d|mm\b|in\b)/g, "$1\u00a0");

// Keep one child for each item, in order, so that focus and listeners stay.
function keyed(parent, items, nameOf, make, update) {
  const before = new Map(Array.from(parent.children, (node) => [node.dataset.name, node]));
  items.forEach((item, place) => {
    const name = nameOf(item);
    let node = before.get(name);
    if (node) before.delete(name);
    else {
      node = make(item);
      node.dataset.name = name;
    }
    if (parent.children[place] !== node) parent.insertBefore(node, parent.children[place] ?? null);
    update(node, item);
  });
  for (const node of before.values()) node.remove();
}

const corners = (ring) => ring.map(([x, y]) => `${x},${y}`).join(" ");

function boxOf(ring) {
  const xs = ring.map(([x]) => x);
  const ys = ring.map(([, y]) => y);
  const [x0, x1, y0, y1] = [Math.min(...xs), Math.max(...xs), Math.min(...ys), Math.max(...ys)];
  return { x: (x0 + x1) / 2, y: (y0 + y1) / 2, width: x1 - x0, height: y1 - y0, x0, x1, y0, y1 };
}
