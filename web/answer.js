// What became of a word that was told, and the way to take it back.
//
// Rule: whoever tells gets an answer in sight and by voice; only what the service says it can take back is offered to be.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { takeBack } from "./told.js";

const ANSWER_MS = 12000;

/** Keeps the answers. `say(words)` tells; `announce(text)` is for those who hear the page; `redraw()` draws it anew. */
export function answers({ say, announce, redraw }) {
  let shown = null;
  let timer = 0;

  function show(given) {
    clearTimeout(timer);
    shown = given;
    if (given?.accepted) timer = setTimeout(() => show(null), ANSWER_MS);
    announce(given && given.accepted !== null ? `${verdict(given)} ${given.text}` : "");
    redraw();
  }

  return {
    show,
    /** The bar over the page, while there is an answer; what the picture knows to be taken back can be. */
    bar(picture) {
      if (!shown) return null;
      const row = shown.accepted && picture?.told.find((one) => one.n === shown.n && one.can_undo);
      const look = shown.accepted === null ? "is-telling" : shown.accepted ? "is-taken" : "is-refused";
      return h("aside", { class: `answer ${look}`, key: "answer", "data-answer": look, "aria-label": texts.answer.name },
        h("p", {}, h("b", {}, verdict(shown)), shown.text),
        row && takeBack(row, say),
        h("button", { class: "button", type: "button", key: "close", onclick: () => show(null) }, texts.answer.close));
    },
  };
}

function verdict(given) {
  if (given.accepted === null) return "";
  return given.accepted ? texts.answer.taken(given.n) : texts.answer.refused;
}
