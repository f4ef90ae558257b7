// What is wrong: open things first, each with what to do, what it rests on, and what the operator makes of it.
//
// Rule: what follows from another stands inside it and calls nobody.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { time } from "./locale.js";
import { floodView, isFlood } from "./flood.js";
import { vehicleNames } from "./vehicle.js";

/** The open irregularities that stand for themselves, the gravest first; among equals as the service has them. */
export function openOnes(picture) {
  const grave = ["danger", "caution", "note"];
  const alone = picture.irregularities.filter((i) => i.status === "open" && !i.cause);
  return alone.sort((a, b) => grave.indexOf(a.level) - grave.indexOf(b.level));
}

/** The name by which a link finds the card of an irregularity. */
export function cardId(item) {
  return `card-${item.id}`;
}

/** The mark and word of a level; `n` of them. */
export function levelMark(level, n = 1) {
  const words = n === 1 ? texts.levels : texts.manyLevels;
  return h("span", { class: `level is-${level}` }, h("span", { class: "level-shape", "aria-hidden": "true" }), words[level] ?? level);
}

/** Makes the part "Irregularities". `say(words)` tells, `redraw()` draws the page anew. */
export function irregularitiesPart({ say, redraw }) {
  const explaining = new Set();
  let each = false;

  function showEach() {
    each = true;
    redraw();
  }

  function toggle(id) {
    if (!explaining.delete(id)) explaining.add(id);
    redraw();
  }

  function explainForm(item) {
    const field = `reason-${item.id}`;
    return h("form", {
      class: "explain", key: "explain",
      onsubmit: (event) => {
        event.preventDefault();
        const reason = event.target.elements.reason.value.trim();
        if (!reason) return;
        say(`explain ${item.id} ${reason}`);
        toggle(item.id);
      },
    },
    h("label", { for: field }, texts.irregularities.reason),
    h("input", { id: field, name: "reason", maxlength: "300", required: true, autocomplete: "off" }),
    h("button", { class: "button is-first" }, texts.irregularities.sendReason),
    h("button", { class: "button", type: "button", onclick: () => toggle(item.id) }, texts.irregularities.cancel));
  }

  function verdicts(item) {
    return h("div", { class: "verdicts", role: "group", "aria-label": texts.irregularities.verdict },
      h("span", { class: "verdict-name", "aria-hidden": "true" }, texts.irregularities.verdict),
      Object.entries(texts.irregularities.verdicts).map(([verdict, word]) => h("button", {
        class: "button", key: verdict, type: "button", "aria-pressed": String(item.verdict === verdict),
        onclick: () => say(`verdict ${item.id} ${verdict}`),
      }, word)));
  }

  function actions(item) {
    return h("div", { class: "actions" },
      item.status === "open" && !item.acknowledged && h("button", {
        class: "button is-first", type: "button", key: "acknowledge", onclick: () => say(`acknowledge ${item.id}`),
      }, texts.irregularities.acknowledge),
      item.status === "open" && !explaining.has(item.id) && h("button", {
        class: "button", type: "button", key: "explain-it", onclick: () => toggle(item.id),
      }, texts.irregularities.explain),
      explaining.has(item.id) && explainForm(item),
      verdicts(item));
  }

  function card(item, picture) {
    const words = texts.irregularities;
    const following = picture.irregularities.filter((other) => other.cause === item.id);
    const numbers = item.evidence.join(", ");
    return h("article", { class: `card irregularity is-${item.level} is-${item.status}`, key: item.id, id: cardId(item), tabindex: "-1", "data-irregularity": item.id, "data-level": item.level },
      h("p", { class: "item-head" }, levelMark(item.level), h("span", { class: "item-id" }, item.id),
        item.status === "ended" && h("span", {}, words.endedMark),
        item.acknowledged && h("span", {}, words.acknowledged),
        item.clock && h("span", { class: "time" }, words.since(time(item.clock)))),
      h("h3", {}, item.text),
      item.do && item.status === "open" && h("p", { class: "do" }, item.do),
      item.explained && h("p", {}, words.explained(item.explained)),
      following.length > 0 && h("div", { class: "following" }, h("p", {}, words.follows),
        h("ul", {}, following.map((other) => h("li", { key: other.id }, other.text)))),
      h("p", { class: "quiet" }, numbers ? words.evidence(numbers) : words.noEvidence,
        item.because.length > 0 && [". ", words.because(vehicleNames(item.because, picture))]),
      actions(item));
  }

  return (picture) => {
    const known = new Set(picture.irregularities.map((i) => i.id));
    const open = openOnes(picture);
    const orphans = picture.irregularities.filter((i) => i.status === "open" && i.cause && !known.has(i.cause));
    const ended = picture.irregularities.filter((i) => i.status === "ended" && !(i.cause && known.has(i.cause)));
    const flood = isFlood(open);
    each &&= flood;
    return [
      !open.length && h("p", { class: "quiet" }, texts.irregularities.none),
      flood && !each ? floodView(open, showEach) : h("div", { class: "cards" }, [...open, ...orphans].map((item) => card(item, picture))),
      ended.length > 0 && h("details", { class: "fold" }, h("summary", {}, texts.irregularities.ended(ended.length)),
        h("div", { class: "cards" }, ended.map((item) => card(item, picture)))),
    ];
  };
}
