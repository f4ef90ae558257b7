// The boards and their detectors: who is heard, what was missed, what is muted.
//
// Rule: a board that is silent stands first; its detectors are unknown and say so.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { age } from "./picture.js";
import { stateMark, whyMark } from "./strip.js";

const GRAVE = ["lost", "not-heard", "heard"];

/** The boards that are not heard now. */
export function notHeard(picture) {
  return picture.boards.filter((board) => board.state !== "heard");
}

/** Makes the part "Boards". `say(words)` tells. */
export function boardsPart({ say }) {
  function detectorRow(detector, picture) {
    const words = texts.boards;
    return h("li", { class: "detector", key: detector.id, "data-detector": detector.id },
      h("div", { class: "detector-what" },
        h("b", {}, detector.id), h("span", { class: "quiet" }, `${words.kinds[detector.kind] ?? detector.kind}, ${words.input(detector.input)}`),
        h("span", { class: "quiet" }, picture.names.place(detector.where))),
      h("div", { class: "detector-state" }, stateMark(detector.state),
        !detector.muted && whyMark(detector.state, detector.why),
        detector.since !== null && h("span", { class: "quiet time" }, words.for(age(picture, detector.since))),
        detector.muted && h("span", { class: "look" }, words.muted)),
      h("button", {
        class: "button", type: "button", "aria-label": detector.muted ? words.unmuteThis(detector.id) : words.muteThis(detector.id),
        onclick: () => say(`${detector.muted ? "unmute" : "mute"} ${detector.id}`),
      }, detector.muted ? words.unmute : words.mute));
  }

  function boardCard(board, picture) {
    const words = texts.boards;
    const detectors = picture.detectors.filter((d) => d.board === board.id);
    const count = (test) => detectors.filter(test).length;
    return h("article", { class: `card board is-${board.state}`, key: board.id, "data-board": board.id },
      h("h3", {}, h("span", { class: `board-mark is-${board.state}`, "aria-hidden": "true" }), board.id,
        h("span", { class: "board-state" }, words.states[board.state] ?? board.state),
        h("span", { class: "room" }, words.links[board.link] ?? board.link)),
      h("p", { class: "quiet time" }, board.last_t === null ? words.never : words.last(age(picture, board.last_t))),
      board.missing > 0 && h("p", { class: "look" }, words.missing(board.missing)),
      board.rejected > 0 && h("p", { class: "look" }, words.rejected(board.rejected)),
      board.unnumbered && h("p", { class: "quiet" }, words.unnumbered),
      detectors.length > 0 && h("details", { class: "fold" },
        h("summary", {}, words.detectors(detectors.length, count((d) => d.state === "unknown"), count((d) => d.muted))),
        h("ul", { class: "detectors" }, detectors.map((d) => detectorRow(d, picture)))));
  }

  return (picture) => {
    const boards = picture.boards.slice().sort((a, b) => GRAVE.indexOf(a.state) - GRAVE.indexOf(b.state));
    if (!boards.length) return h("p", { class: "quiet" }, texts.boards.none);
    return h("div", { class: "cards" }, boards.map((board) => boardCard(board, picture)));
  };
}
