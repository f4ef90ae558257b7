// Tags that were read and belong to no vehicle, and how one is given to its vehicle.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { age } from "./picture.js";

/** The tags of no vehicle, the one read last first. */
export function lately(picture) {
  return picture.strangeTags.slice().sort((a, b) => b.t - a.t);
}

/** Where and how long ago a tag was read, in words. */
export function readWhere(strange, picture) {
  const detector = picture.detectors.find((one) => one.id === strange.detector);
  return texts.tags.read(detector ? picture.names.place(detector.where) : strange.detector, age(picture, strange.t));
}

/** The part "Tags of no vehicle"; `give(tag)` begins to give one to a vehicle. */
export function strangeTags(picture, give) {
  const tags = lately(picture);
  return [
    h("p", { class: "quiet", key: "how" }, texts.tags.how),
    tags.length > 0 && h("ul", { class: "word-list", key: "tags" }, tags.map((strange) => h("li", { key: strange.tag, "data-tag": strange.tag },
      h("div", {}, h("code", {}, strange.tag), h("span", { class: "quiet time" }, readWhere(strange, picture))),
      h("button", { class: "button", type: "button", "aria-label": texts.tags.giveThis(strange.tag), onclick: () => { give(strange.tag); scrollTo(0, 0); } }, texts.tags.give)))),
  ];
}
