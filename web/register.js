// The last things said, newest first, as sentences.

import { h } from "./draw.js";
import { texts } from "./texts.js";

/** The part "Register". */
export function registerPart(picture) {
  const lines = picture.outcomes.filter((outcome) => texts.register[outcome.says]).slice().reverse();
  if (!lines.length) return h("p", { class: "quiet" }, texts.register.none);
  return h("ol", { class: "register" }, lines.map((outcome) => h("li", { key: String(outcome.n) },
    h("span", { class: "time" }, outcome.clock ?? texts.noClock), h("span", {}, sentence(outcome, picture.names)))));
}

function sentence(outcome, names) {
  const road = outcome.road ?? outcome.station;
  return texts.register[outcome.says]({
    ...outcome,
    place: names.place(road) || names.station(outcome.station),
    section: names.place(outcome.section),
    vehicle: names.vehicle(outcome.vehicle),
    to: names.place(outcome.to),
    level: texts.levels[outcome.level] ?? outcome.level,
    state: texts.trains.moveStates[outcome.state] ?? outcome.state,
  });
}
