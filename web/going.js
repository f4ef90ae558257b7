// The trains that run now: where each is, how late, and whether it may go.
//
// Rule: the service answers and the crew decides; what may go stands first, what asks for a look next.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { to } from "./route.js";
import { lateness, whereIs } from "./trains.js";

const RUNNING = ["at-station", "out", "in-section"];
const ANSWERS = ["yes", "look", "wait"];

/** May it go: the answer in front, then its reason; nothing where the service has none. */
export function mayGo(train) {
  if (!train.may_go) return null;
  const { answer, why } = train.may_go;
  const cut = why.indexOf(":");
  return h("p", { class: `may-go is-${answer}`, key: "may-go" }, h("span", { class: "unseen" }, texts.trains.mayGo, " "),
    h("b", { class: "may-go-word" }, why.slice(0, cut + 1)), why.slice(cut + 1));
}

/** The part "Trains" of the Line. */
export function goingPart(picture) {
  const rank = (train) => (train.may_go ? ANSWERS.indexOf(train.may_go.answer) : ANSWERS.length);
  const running = picture.trains.filter((train) => RUNNING.includes(train.state)).sort((a, b) => rank(a) - rank(b));
  const later = picture.trains.filter((train) => train.state === "to-come");
  if (!picture.trains.length) return h("p", { class: "quiet" }, picture.session.state === "running" ? texts.trains.none : texts.work.afterBegin);
  return [
    (running.length > 0 || later.length > 0) && h("ul", { class: "going" }, running.map((train) => h("li", { class: "train", key: train.id, "data-train": train.id },
      h("a", { class: "train-link", href: to("work", train.id) }, h("b", { class: "flag" }, train.id), whereIs(train, picture), lateness(train)),
      mayGo(train))),
    later.length > 0 && h("li", { class: "quiet later", key: "later" }, texts.trains.later(later.map((train) => train.id).join(", ")))),
    !running.length && !later.length && h("p", { class: "quiet" }, texts.trains.allEnded),
  ];
}
