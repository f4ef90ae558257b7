// What was told of late: by whom, what came of it, and the way to take it back, the same on every device.
//
// Rule: the service keeps the account; a word can be taken back from any device, by its journal number.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { age } from "./picture.js";
import { whoIs } from "./tell.js";

/** The button that takes a word back. */
export function takeBack(row, say) {
  return h("button", { class: "button", type: "button", key: "undo", "aria-label": texts.answer.undoThis(row.words), onclick: () => say(`undo ${row.n}`) }, texts.answer.undo);
}

/** Who told it, in words. */
function byWhom(who) {
  if (!who) return texts.told.somebody;
  return who === whoIs().replaceAll(/\s+/g, "-") ? texts.told.here : who.replaceAll("-", " ");
}

/** Words told, as rows of `picture.told`, newest first; null where there are none. */
export function toldList(rows, picture, say) {
  if (!rows.length) return null;
  return h("ul", { class: "word-list told", "data-told": true }, rows.map((row) =>
    h("li", { key: String(row.n), class: row.undone_by === null ? "" : "is-undone", "data-word": String(row.n) },
      h("div", {},
        h("span", { class: "told-who" }, texts.told.by(byWhom(row.who), age(picture, row.t))),
        h("span", { class: "told-answer" }, row.answer || row.words),
        row.undone_by !== null && h("span", { class: "quiet" }, texts.told.undone(byWhom(row.undone_who)))),
      row.can_undo && takeBack(row, say))));
}
