// What is said of a working in several places: where it is, how late, its calls, its moves.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { time } from "./locale.js";
import { howSure, withSure } from "./picture.js";
import { vehicleName } from "./vehicle.js";

/** Where a train is, in words. */
export function whereIs(train, { names }) {
  const place = train.road ? names.place(train.road) : train.station ? names.station(train.station) : "";
  const words = {
    "to-come": () => texts.trains.toCome,
    "at-station": () => texts.trains.atStation(place),
    out: () => texts.trains.out(place),
    "in-section": () => texts.trains.inSection(names.place(train.section)),
    ended: () => texts.trains.ended,
  };
  return h("b", { class: "train-where" }, words[train.state]?.() ?? train.state);
}

/** How late a train is; nothing where that is not known. */
export function lateness(train) {
  if (train.late === null || train.late === undefined) return null;
  const minutes = Math.round(train.late / 60);
  const text = minutes > 0 ? texts.trains.late(minutes) : minutes < 0 ? texts.trains.early(-minutes) : texts.trains.onTime;
  return h("span", { class: minutes > 0 ? "late is-late" : "late" }, text);
}

/** The calls of a working as a table. */
export function callTable(train, { names }) {
  const words = texts.trains.columns;
  return h("table", { class: "calls" },
    h("caption", { class: "unseen" }, texts.trains.calls(train.id)),
    h("thead", {}, h("tr", {}, Object.entries(words).map(([key, word]) => h("th", { scope: "col", key }, word)))),
    h("tbody", {}, train.calls.map((call, index) => h("tr", { key: String(index), class: `call-${call.state}` },
      h("th", { scope: "row" }, names.place(call.road ?? call.station)),
      h("td", { class: "time" }, time(call.arrive)), h("td", { class: "time" }, time(call.depart)),
      h("td", {}, h("span", { class: `call-mark is-${call.state}`, "aria-hidden": "true" }), texts.trains.callStates[call.state] ?? call.state)))));
}

/** Moves as a list, each with how it stands. */
export function moveList(moves, picture) {
  const { names } = picture;
  return h("ul", { class: "moves" }, moves.map((move, index) => h("li", { key: `${move.vehicle} ${index}`, class: `move is-${move.state}` },
    h("b", {}, vehicleName(move.vehicle, picture)),
    h("span", { class: "from-to" }, `${names.place(move.from)} → ${names.place(move.to)}`),
    h("span", { class: `move-state look-${move.state === "booked" ? "plain" : howSure(move.sure)}` }, moveWords(move)))));
}

/** A booked move that nobody has begun is booked, however sure anything else is. */
function moveWords(move) {
  const words = texts.trains.moveStates[move.state] ?? move.state;
  return move.state === "booked" ? words : withSure(words, move.sure);
}
