// Stations moved, and roads put in another order, by whoever knows how the layout lies: by pointer, by taps or by keyboard.
//
// Rule: each is a word told, so that every device draws the same; what is not told yet is drawn already, on this device alone.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { to } from "./route.js";
import { heldAt, rowOf, STEP_PX } from "./moved.js";

const MOST_STEPS = 40;
const SETTLED_MS = 700;
const KEYS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** Makes what arranges. `say(words)` tells, `redraw()` draws the page anew. */
export function arranging({ say, redraw }) {
  const pending = new Map();
  const timers = new Map();
  let dragged = null;

  /** The picture with what has been moved here and is not in it yet. */
  function ahead(picture) {
    for (const [id, at] of pending) if (at.n && picture.session.journal >= at.n) pending.delete(id);
    if (!pending.size) return picture;
    const rows = new Map(picture.drawn.map((row) => [row.station, row]));
    for (const [id, at] of pending) rows.set(id, { ...rowOf(picture, id), ...at });
    return { ...picture, drawn: [...rows.values()] };
  }

  /** Where a station stands, told or not: to the side as far as there is room for it. */
  function now(picture, id) {
    const { right, down, roads } = rowOf(ahead(picture), id);
    return { right: heldAt(id) ?? right, wanted: right, down, roads };
  }

  /** Move a station to where there is room, and tell it once it stays there. */
  function move(picture, id, right, down) {
    const is = now(picture, id);
    const isOn = heldAt(id) !== null && (right - is.right) * (is.wanted - is.right) > 0;
    const within = (n, least) => Math.max(least, Math.min(MOST_STEPS, n));
    const at = { right: isOn ? is.right : within(right, -MOST_STEPS), down: within(down, 0) };
    if (at.right === is.right && at.down === is.down) return;
    pending.set(id, at);
    clearTimeout(timers.get(id));
    timers.set(id, setTimeout(() => tellIt(id), SETTLED_MS));
    redraw();
  }

  async function tellIt(id) {
    if (dragged?.id === id) return;
    const at = pending.get(id);
    const { accepted, n } = await say(`draw ${id} ${at.right} ${at.down}`);
    if (accepted) at.n = n; // drawn ahead until the picture has it
    else if (pending.get(id) === at) pending.delete(id);
    redraw();
  }

  function grab(event, picture, id) {
    const { right, down } = now(picture, id);
    dragged = { id, x: event.clientX, y: event.clientY, right, down };
    event.currentTarget.setPointerCapture(event.pointerId);
  }

  function pull(event, picture) {
    if (!dragged) return;
    const step = STEP_PX * (parseFloat(getComputedStyle(document.documentElement).fontSize) / 16);
    move(picture, dragged.id, dragged.right + Math.round((event.clientX - dragged.x) / step), dragged.down + Math.round((event.clientY - dragged.y) / step));
  }

  function letGo() {
    if (!dragged) return;
    const { id } = dragged;
    dragged = null;
    clearTimeout(timers.get(id));
    if (pending.has(id)) tellIt(id);
  }

  function press(event, picture, id) {
    const by = KEYS[event.key];
    if (!by) return;
    event.preventDefault();
    const is = now(picture, id);
    move(picture, id, is.right + by[0], is.down + by[1]);
  }

  /** What stands under the name of a station: its handle, the arrows, and the way back. */
  function station(picture, id) {
    const words = texts.arrange;
    const name = picture.names.station(id);
    const is = now(picture, id);
    const arrow = (key) => h("button", {
      class: "button arrow", type: "button", key, "aria-label": words.moves[key](name),
      onclick: () => move(picture, id, is.right + KEYS[key][0], is.down + KEYS[key][1]),
    }, words.arrows[key]);
    return h("div", { class: "arrange", key: "arrange" },
      h("button", {
        class: "button handle", type: "button", key: "handle", "data-handle": id, "aria-label": words.handle(name),
        onkeydown: (event) => press(event, picture, id), onpointerdown: (event) => grab(event, picture, id),
        onpointermove: (event) => pull(event, picture), onpointerup: letGo, onpointercancel: letGo,
      }, words.drag),
      ["ArrowLeft", "ArrowRight", "ArrowUp", "ArrowDown"].map(arrow),
      heldAt(id) !== null && h("p", { class: "look", key: "held" }, words.noRoom),
      (is.wanted || is.down || is.roads.length > 0) && h("button", {
        class: "button", type: "button", key: "back", "aria-label": words.byItselfThis(name), onclick: () => say(`draw ${id} by-itself`),
      }, words.byItself));
  }

  /** What puts a road higher or lower; `roads` are those of its station as they are drawn. */
  function road(picture, one, roads) {
    const words = texts.arrange;
    const at = roads.findIndex((other) => other.id === one.id);
    const name = picture.names.place(one.id);
    const button = (key, number, isThere) => isThere && h("button", {
      class: "button arrow", type: "button", key, "aria-label": words.roads[key](name), onclick: () => say(`draw ${one.id} ${number}`),
    }, words.arrows[key]);
    return [button("ArrowUp", at, at > 0), button("ArrowDown", at + 2, at < roads.length - 1)];
  }

  return {
    ahead,
    of: (picture) => ({ station: (id) => station(picture, id), road: (one, roads) => road(picture, one, roads) }),
    /** What stands above the line meanwhile. */
    asked: () => h("div", { class: "asked", key: "asked", "data-asked": "arrange" }, h("p", {}, texts.arrange.how),
      h("a", { class: "button is-first", href: to("line") }, texts.arrange.done)),
    /** The way to it. */
    way: () => h("p", { key: "arrange" }, h("a", { class: "button", href: to("line", "arrange") }, texts.arrange.open)),
  };
}
