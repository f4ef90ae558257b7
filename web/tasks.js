// What a call has to do, a big row for each vehicle in the order in which the crew comes to it.
//
// Rule: a tick is what is known; what is not certain asks somebody to look, and takes the answer.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { howSure, withSure } from "./picture.js";
import { to } from "./route.js";
import { vehicleName, vehicleNames } from "./vehicle.js";

const MARKS = { "to-do": "", done: "✓", failed: "✗", look: "?" };

/** The rows of a call; `teller` has the `train` whose call it is, and `say(words)`. */
export function taskList(work, picture, teller) {
  if (!work.length) return h("p", { class: "big-words", key: "none" }, texts.work.nothing);
  return ["set-out", "shift", "lift"].filter((does) => work.some((task) => task.does === does)).map((does) =>
    h("div", { class: "tasks", key: does, "data-does": does }, h("h3", {}, texts.work.does[does]),
      h("ul", {}, work.filter((task) => task.does === does).map((task) => taskRow(task, picture, teller)))));
}

/** Nobody is asked to look for what goes with a train and is not yet to have left it. */
function asksForLook(task, vehicle) {
  if (task.state === "done") return howSure(task.sure) === "look";
  return task.state === "to-do" && vehicle && !vehicle.train && howSure(vehicle.sure) === "look";
}

function taskRow(task, picture, teller) {
  const words = texts.work;
  const vehicle = picture.vehicles[task.vehicle];
  const look = asksForLook(task, vehicle);
  const state = look ? "look" : task.state;
  const road = (id) => picture.names.road(id);
  const way = { "set-out": words.onto(road(task.to)), lift: words.from(road(task.from)), shift: words.across(road(task.from), road(task.to)) }[task.does];
  return h("li", { class: `task is-${state}`, key: `${task.does} ${task.vehicle} ${task.to}`, "data-task": task.vehicle, "data-state": state },
    h("span", { class: "task-mark", "aria-hidden": "true" }, MARKS[state]),
    h("div", { class: "task-what" },
      h("p", {}, h("b", { class: "task-vehicle" }, vehicleName(task.vehicle, picture)), " ", way),
      h("p", { class: "task-how" }, how(task, state, picture))),
    state === "to-do" && h("button", { class: "button", type: "button", key: "tick", "aria-label": words.tickThis[task.does](picture.names.vehicle(task.vehicle)), onclick: () => teller.say(telling(task, teller.train)) }, words.tick[task.does]),
    look && lookButtons(task, picture, teller));
}

function how(task, state, picture) {
  const words = texts.work;
  if (state === "look") return words.look;
  if (state === "done") return withSure(words.done[task.does], task.sure);
  if (state === "failed") return words.failed;
  return task.behind.length ? words.behind(vehicleNames(task.behind, picture)) : words.nearest;
}

/** The words by which an operator says that it is done. */
function telling(task, train) {
  return task.does === "lift" ? `lifts ${train.id} ${task.vehicle}` : `sets-out ${train.id} ${task.vehicle} ${task.to}`;
}

function lookButtons(task, picture, { train, say }) {
  const words = texts.work;
  const road = task.state === "done" && task.does !== "lift" ? task.to : task.from;
  return h("div", { class: "task-look", key: "look" },
    h("button", { class: "button", type: "button", onclick: () => say(`stands ${task.vehicle} ${road}`) }, words.itIsOn(picture.names.road(road))),
    h("button", { class: "button", type: "button", onclick: () => say(`lifts ${train.id} ${task.vehicle}`) }, words.itIsWith(train.id)),
    h("a", { class: "button", href: to("stock", task.vehicle) }, words.itIsElsewhere));
}
