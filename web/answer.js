// What became of a word that was told, and the way to take it back.
//
// Rule: whoever tells gets an answer in sight and by voice; only what the service can take back is offered to be.

import { h } from "./draw.js";
import { texts } from "./texts.js";

const ANSWER_MS = 12000;
const MOST = 5;
const TAKEN_BACK = ["stands", "sets-out", "tag", "mute", "unmute", "stop-clock", "go-on"];

/** Keeps the answers. `say(words)` tells; `announce(text)` is for those who hear the page; `redraw()` draws it anew. */
export function answers({ say, announce, redraw }) {
  let shown = null;
  let timer = 0;
  let told = [];

  function show(given) {
    clearTimeout(timer);
    shown = given;
    if (given?.accepted) timer = setTimeout(() => show(null), ANSWER_MS);
    if (given?.accepted && given.n !== null && isUndo(given.words)) told = told.filter((one) => given.words !== `undo ${one.n}`);
    else if (given?.accepted && canTakeBack(given)) told = [given, ...told].slice(0, MOST);
    announce(given && given.accepted !== null ? `${verdict(given)} ${given.text}` : "");
    redraw();
  }

  function undo(one) {
    return h("button", { class: "button", type: "button", key: "undo", "aria-label": texts.answer.undoThis(one.text), onclick: () => say(`undo ${one.n}`) }, texts.answer.undo);
  }

  return {
    show,
    /** The bar over the page, while there is an answer. */
    bar() {
      if (!shown) return null;
      const look = shown.accepted === null ? "is-telling" : shown.accepted ? "is-taken" : "is-refused";
      return h("aside", { class: `answer ${look}`, key: "answer", "data-answer": look, "aria-label": texts.answer.name },
        h("p", {}, h("b", {}, verdict(shown)), shown.text),
        shown.accepted && told.includes(shown) && undo(shown),
        h("button", { class: "button", type: "button", key: "close", onclick: () => show(null) }, texts.answer.close));
    },
    /** What was told last from this device and can be taken back, newest first. */
    list() {
      return told.length > 0 && h("ul", { class: "word-list", "data-told": true }, told.map((one) =>
        h("li", { key: String(one.n) }, h("span", {}, one.text), undo(one))));
    },
  };
}

function isUndo(words) {
  return words.startsWith("undo ");
}

function canTakeBack(given) {
  return given.n !== null && TAKEN_BACK.includes(given.words.trim().split(/\s+/)[0]);
}

function verdict(given) {
  if (given.accepted === null) return "";
  return given.accepted ? texts.answer.taken(given.n) : texts.answer.refused;
}
