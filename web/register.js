// The last things said, newest first, as sentences.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { time } from "./locale.js";
import { vehicleName } from "./vehicle.js";

/** The part "Register". */
export function registerPart(picture) {
  const lines = picture.outcomes.filter((outcome) => texts.register[outcome.says]).slice().reverse();
  if (!lines.length) return h("p", { class: "quiet" }, texts.register.none);
  return h("ol", { class: "register" }, lines.map((outcome) => h("li", { key: String(outcome.n) },
    h("span", { class: "time" }, outcome.clock ? time(outcome.clock) : texts.noClock), h("span", {}, sentence(outcome, picture, vehicleName)))));
}

/** The sentence of an outcome as plain text, for a voice. */
export function plainSentence(outcome, picture) {
  return [sentence(outcome, picture, (id) => picture.names.vehicle(id))].flat(Infinity).join("");
}

function sentence(outcome, picture, nameOf) {
  const { names } = picture;
  const road = outcome.road ?? outcome.station;
  return texts.register[outcome.says]({
    ...outcome,
    place: names.place(road) || names.station(outcome.station),
    section: names.place(outcome.section),
    vehicle: nameOf(outcome.vehicle, picture),
    why: outcome.says === "authority" ? names.why(outcome.section, outcome.why) : outcome.why,
    to: names.place(outcome.to),
    level: texts.levels[outcome.level] ?? outcome.level,
    state: texts.trains.moveStates[outcome.state] ?? outcome.state,
  });
}
