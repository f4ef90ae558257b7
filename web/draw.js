// Draws a description of elements into the page, keeping the elements that are there already.
//
// Rule: text only ever becomes text (a name with markup in it shows its markup), and an element that stays keeps its focus,
// what was typed into it, and whether it was folded open.

const SVG = "http://www.w3.org/2000/svg";
const SVG_TAGS = new Set(["svg", "path", "circle", "rect", "g", "title", "line"]);
const known = new WeakMap();

/** Describe an element. `attrs`: `key` tells siblings apart, `onclick` and the like are functions, `style` is an object,
 * `own` leaves the children to somebody else. */
export function h(tag, attrs, ...children) {
  return { tag, attrs: attrs ?? {}, children: children.flat(Infinity).filter((c) => c !== null && c !== undefined && c !== false && c !== "") };
}

/** Make the children of `parent` what `children` describes. */
export function draw(parent, children) {
  const focused = document.activeElement;
  fill(parent, [children].flat(Infinity).filter(Boolean));
  if (focused && focused !== document.activeElement && focused.isConnected) focused.focus({ preventScroll: true });
}

/** What has `paint` done soon, and once however often that is asked for until then. As long as it took it rests afterwards,
 * so that a slow phone goes on hearing and shows the newest, whatever it leaves out. */
export function soon(paint) {
  let planned = false;
  let restsUntil = 0;
  return () => {
    if (planned) return;
    planned = true;
    setTimeout(() => {
      planned = false;
      const began = performance.now();
      paint();
      restsUntil = 2 * performance.now() - began;
    }, Math.max(0, restsUntil - performance.now()));
  };
}

/** Have a text told to those who hear the page, in one of its live regions. */
export function call(id, text) {
  const region = document.getElementById(id);
  if (region.textContent !== text) region.textContent = text;
}

function fill(parent, children) {
  const spare = new Map();
  for (const node of [...parent.childNodes]) {
    const name = nameOf(known.get(node));
    if (!spare.has(name)) spare.set(name, []);
    spare.get(name).push(node);
  }
  const nodes = children.map((child) => {
    const wanted = typeof child === "object" ? child : { tag: "#text", text: String(child) };
    const node = spare.get(nameOf(wanted))?.shift() ?? create(wanted);
    renew(node, wanted);
    return node;
  });
  for (const left of spare.values()) for (const node of left) node.remove();
  let next = parent.firstChild;
  for (const node of nodes) {
    if (node === next) next = next.nextSibling;
    else parent.insertBefore(node, next);
  }
}

function nameOf(wanted) {
  return wanted ? `${wanted.tag} ${wanted.attrs?.key ?? ""}` : "";
}

function create(wanted) {
  if (wanted.tag === "#text") return document.createTextNode("");
  return SVG_TAGS.has(wanted.tag) ? document.createElementNS(SVG, wanted.tag) : document.createElement(wanted.tag);
}

function renew(node, wanted) {
  const before = known.get(node)?.attrs ?? {};
  known.set(node, wanted);
  if (wanted.tag === "#text") {
    if (node.nodeValue !== wanted.text) node.nodeValue = wanted.text;
    return;
  }
  for (const name of Object.keys(before)) if (!(name in wanted.attrs)) set(node, name, null, before[name]);
  for (const [name, value] of Object.entries(wanted.attrs)) set(node, name, value, before[name]);
  if (!wanted.attrs.own) fill(node, wanted.children);
}

function set(node, name, value, before) {
  if (name === "key" || name === "own") return;
  if (name === "style") {
    for (const part of Object.keys(before ?? {})) if (!(part in (value ?? {}))) node.style.removeProperty(part);
    for (const [part, text] of Object.entries(value ?? {})) if (before?.[part] !== text) node.style.setProperty(part, text);
  } else if (name.startsWith("on")) {
    node[name] = value;
  } else if (value !== before) {
    if (value === null || value === undefined || value === false) node.removeAttribute(name);
    else node.setAttribute(name, value === true ? "" : value);
  }
}
