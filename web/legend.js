// How to read the line: every state and every outline with its word.

import { h } from "./draw.js";
import { texts } from "./texts.js";

/** How to read the line. */
export function legend() {
  const words = texts.line.legendItems;
  const strip = (state) => h("span", { class: `sample is-${state}` });
  const block = (look) => h("span", { class: `block legend-block ${look}` }, look === "is-guessed" ? "?" : "");
  const items = [
    ...["clear", "occupied", "unknown", "unwatched"].map((state) => [strip(state), words[state]]),
    ...["seen", "carried", "guessed"].map((firm) => [block(`is-${firm}`), words[firm]]),
    [block("is-seen kind-engine"), words.engine], [h("span", { class: "legend-stop" }), words.stop], [null, words.order],
  ];
  return h("details", { class: "fold" }, h("summary", {}, texts.line.legend),
    h("ul", { class: "legend" }, items.map(([mark, text]) => h("li", { key: text }, h("span", { class: "legend-mark" }, mark), text))));
}
