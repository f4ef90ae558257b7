// Much at once: what came up first, and how many of each kind, instead of a heap of cards.
//
// Rule: nothing is left out; every card is one tap away.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { time } from "./locale.js";
import { levelMark } from "./irregularities.js";

const MANY = 10;
const WITHIN_S = 600;
const FIRST = 3;

/** True where more than ten of the open ones came up within ten minutes. */
export function isFlood(open) {
  const moments = open.map((item) => item.t).sort((a, b) => a - b);
  return moments.some((t, i) => i >= MANY && t - moments[i - MANY] <= WITHIN_S);
}

/** The first causes and the counts by kind; `all()` shows every card. */
export function floodView(open, all) {
  const words = texts.flood;
  const first = open.slice().sort((a, b) => a.t - b.t).slice(0, FIRST);
  const kinds = [...new Set(open.map((item) => item.kind))].map((kind) => [kind, open.filter((item) => item.kind === kind)])
    .sort((a, b) => b[1].length - a[1].length);
  return h("div", { class: "flood", "data-flood": String(open.length) },
    h("p", {}, h("b", {}, words.many(open.length)), " ", words.advice),
    h("h3", {}, words.first),
    h("ol", { class: "flood-first" }, first.map((item) => h("li", { key: item.id },
      h("p", { class: "item-head" }, levelMark(item.level), item.clock && h("span", { class: "time" }, texts.irregularities.since(time(item.clock)))),
      h("p", {}, h("b", {}, item.text)), item.do && h("p", { class: "do" }, item.do)))),
    h("h3", {}, words.kinds),
    h("ul", { class: "flood-kinds" }, kinds.map(([kind, items]) => h("li", { key: kind }, h("b", { class: "time" }, String(items.length)), levelMark(items[0].level), h("span", {}, texts.kinds[kind] ?? kind)))),
    h("button", { class: "button is-first", type: "button", onclick: all }, words.all));
}
