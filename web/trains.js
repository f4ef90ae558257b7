// Each working with its calls, its rake and its guard's list.
//
// Rule: what is happening now stands first; what has ended is folded away.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { howSure, withSure } from "./picture.js";
import { vehicleName } from "./vehicle.js";

const NOW = ["in-section", "out", "at-station", "to-come"];

/** The part "Trains". */
export function trainsPart(picture) {
  const at = (train) => NOW.indexOf(train.state);
  const going = picture.trains.filter((t) => t.state !== "ended").sort((a, b) => at(a) - at(b));
  const ended = picture.trains.filter((t) => t.state === "ended");
  const loose = picture.moves.filter((move) => move.working === null);
  return [
    !picture.trains.length && h("p", { class: "quiet" }, texts.trains.none),
    h("div", { class: "cards" }, going.map((train) => trainCard(train, picture))),
    loose.length > 0 && h("div", { class: "card" }, h("h3", {}, texts.trains.anyWorking), moveList(loose, picture)),
    ended.length > 0 && h("details", { class: "fold" }, h("summary", {}, texts.trains.endedTrains(ended.length)),
      h("div", { class: "cards" }, ended.map((train) => trainCard(train, picture)))),
  ];
}

function trainCard(train, picture) {
  const moves = picture.moves.filter((move) => move.working === train.id);
  return h("article", { class: "card train", key: train.id, "data-train": train.id },
    h("h3", {}, h("b", { class: "flag" }, train.id), texts.trains.kinds[train.kind] ?? train.kind,
      h("span", { class: "room" }, texts.trains.engine(vehicleName(train.engine, picture)))),
    h("p", { class: "where" }, whereIs(train, picture), lateness(train)),
    train.may_go && h("p", { class: `may-go is-${train.may_go.answer}` }, h("span", { class: "unseen" }, texts.trains.mayGo, " "), train.may_go.why),
    train.calls.length > 0 && callTable(train, picture),
    h("h4", {}, texts.trains.list),
    moves.length ? moveList(moves, picture) : h("p", { class: "quiet" }, texts.trains.noMoves),
    h("h4", {}, texts.trains.rake),
    h("p", { class: "rake" }, train.rake.length
      ? train.rake.map((id) => h("span", { class: "caption-vehicle", key: id }, vehicleName(id, picture)))
      : texts.trains.noRake));
}

function whereIs(train, { names }) {
  const place = train.road ? names.place(train.road) : train.station ? names.station(train.station) : "";
  const words = {
    "to-come": () => texts.trains.toCome,
    "at-station": () => texts.trains.atStation(place),
    out: () => texts.trains.out(place),
    "in-section": () => texts.trains.inSection(names.place(train.section)),
    ended: () => texts.trains.ended,
  };
  return h("b", {}, words[train.state]?.() ?? train.state);
}

function lateness(train) {
  if (train.late === null || train.late === undefined) return null;
  const minutes = Math.round(train.late / 60);
  const text = minutes > 0 ? texts.trains.late(minutes) : minutes < 0 ? texts.trains.early(-minutes) : texts.trains.onTime;
  return h("span", { class: minutes > 0 ? "late is-late" : "late" }, text);
}

function callTable(train, { names }) {
  const words = texts.trains.columns;
  return h("table", { class: "calls" },
    h("caption", { class: "unseen" }, texts.trains.calls(train.id)),
    h("thead", {}, h("tr", {}, Object.entries(words).map(([key, word]) => h("th", { scope: "col", key }, word)))),
    h("tbody", {}, train.calls.map((call, index) => h("tr", { key: String(index), class: `call-${call.state}` },
      h("th", { scope: "row" }, names.place(call.road ?? call.station)),
      h("td", { class: "time" }, call.arrive ?? ""), h("td", { class: "time" }, call.depart ?? ""),
      h("td", {}, h("span", { class: `call-mark is-${call.state}`, "aria-hidden": "true" }), texts.trains.callStates[call.state] ?? call.state)))));
}

function moveList(moves, picture) {
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
