// The page "Work": one working, one call at a time, for the phone of its crew.
//
// Rule: what is to be done at this call stands first, in the order in which the crew comes to it; ticks come by themselves.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { keep, kept } from "./keep.js";
import { time } from "./locale.js";
import { part } from "./part.js";
import { to } from "./route.js";
import { mayGo } from "./going.js";
import { notRunning } from "./page-line.js";
import { blocks, caption } from "./strip.js";
import { taskList } from "./tasks.js";
import { callTable, lateness, moveList, whereIs } from "./trains.js";
import { vehicleName } from "./vehicle.js";

const STATES = ["at-station", "out", "in-section", "to-come", "ended"];
const MOST_PX = 640;
const MARGIN_PX = 28;

/** Makes the page. `say(words)` tells. */
export function workPage({ say }) {
  function draw(picture, route) {
    const waits = picture.session.state !== "running" && notRunning(picture);
    const train = picture.trains.find((one) => one.id === (route.what && route.what !== "wrong" ? route.what : kept("working")));
    if (!train || route.what === "choose") return [waits, part("choose", () => choice(picture))];
    if (kept("working") !== train.id) keep("working", train.id);
    return [
      waits,
      h("div", { class: "work", key: train.id, "data-working": train.id },
        workHead(train, picture),
        train.state === "ended" ? h("p", { class: "big-words" }, texts.work.ended) : callNow(train, picture),
        part("rake", () => rake(train, picture)),
        told(train, picture),
        journey(train, picture)),
    ];
  }

  /** What only an operator can say where nothing detects it. */
  function told(train, picture) {
    const words = texts.work;
    const next = train.calls[train.call + 1];
    const tell = (text, what) => h("button", { class: "button", type: "button", key: what, onclick: () => say(what) }, text);
    const found = [
      train.state === "at-station" && next && tell(words.departed, `depart ${train.id}`),
      ["out", "in-section"].includes(train.state) && next?.road && tell(words.arrived(picture.names.place(next.road)), `arrive ${train.id} ${next.road}`),
    ].filter(Boolean);
    return found.length > 0 && h("div", { class: "told", key: "told" }, h("p", { class: "quiet" }, words.undetected), h("div", { class: "actions" }, found));
  }

  function callNow(train, picture) {
    const words = texts.work;
    const index = callIndex(train);
    const call = train.calls[index];
    if (!call) return h("p", { class: "big-words" }, whereIs(train, picture));
    const next = train.calls[index + 1];
    return h("section", { class: "call", key: `call ${index}`, "aria-labelledby": "call-name", "data-call": String(index) },
      h("p", { class: "call-when" }, words.when[train.state] ?? "", " ", lateness(train)),
      h("h2", { id: "call-name" }, picture.names.place(call.road ?? call.station)),
      h("p", { class: "time" }, words.times(time(call.arrive), time(call.depart))),
      mayGo(train),
      taskList(call.work, picture, { train, say }),
      h("p", { class: "next-call", "data-next-call": true }, next ? words.next(picture.names.place(next.road ?? next.station), words.times(time(next.arrive), time(next.depart)), words.counts(next.work)) : words.last));
  }

  return { draw };
}

/** The call that a crew has before it: the one it is at or shunts around, else the one it comes to. */
function callIndex(train) {
  if (train.state === "out" || train.state === "at-station") return train.call;
  return train.calls.findIndex((call) => call.state === "to-come");
}

function choice(picture) {
  const trains = picture.trains.slice().sort((a, b) => STATES.indexOf(a.state) - STATES.indexOf(b.state));
  const loose = picture.moves.filter((move) => move.working === null);
  return [
    !trains.length && h("p", { class: "quiet" }, picture.session.state === "running" ? texts.trains.none : texts.work.afterBegin),
    trains.length > 0 && h("p", { key: "once" }, texts.work.once),
    h("ul", { class: "choices" }, trains.map((train) => h("li", { key: train.id },
      h("a", { class: "choice", href: to("work", train.id), "data-choice": train.id },
        h("b", { class: "flag" }, train.id), h("span", {}, texts.trains.kinds[train.kind] ?? train.kind), h("span", {}, whereIs(train, picture)))))),
    trains.length > 0 && h("details", { class: "fold", key: "lists" }, h("summary", {}, texts.work.lists), trains.map((train) =>
      h("section", { class: "list", key: train.id, "data-train": train.id, "aria-label": texts.work.listOf(train.id) },
        h("h3", {}, h("b", { class: "flag" }, train.id), " ", whereIs(train, picture)), movesOf(train, picture)))),
    loose.length > 0 && h("details", { class: "fold" }, h("summary", {}, texts.trains.anyWorking), moveList(loose, picture)),
  ];
}

function workHead(train, picture) {
  return h("div", { class: "work-head", key: "head" },
    h("p", {}, h("b", { class: "flag" }, train.id), " ", texts.trains.kinds[train.kind] ?? train.kind, ", ", texts.trains.engine(vehicleName(train.engine, picture))),
    h("a", { class: "button", href: to("work", "choose") }, texts.work.another));
}

function rake(train, picture) {
  const line = train.rake.includes(train.engine) ? train.rake : [train.engine, ...train.rake];
  const total = line.reduce((sum, id) => sum + (picture.vehicles[id]?.length_mm ?? 100), 0);
  const room = Math.min(document.documentElement.clientWidth, MOST_PX) - MARGIN_PX;
  if (train.state === "to-come" || train.state === "ended") return h("p", { class: "quiet" }, texts.work.noRake);
  return [
    h("div", { class: "strip-place rake-strip", "aria-hidden": "true" }, blocks(line, picture, room / total, false)),
    caption(line, picture, false),
  ];
}

function journey(train, picture) {
  return h("details", { class: "fold", key: "journey" }, h("summary", {}, texts.work.journey),
    train.calls.length > 0 && callTable(train, picture),
    h("h3", {}, texts.trains.list),
    movesOf(train, picture));
}

function movesOf(train, picture) {
  const moves = picture.moves.filter((move) => move.working === train.id);
  return moves.length ? moveList(moves, picture) : h("p", { class: "quiet" }, texts.trains.noMoves);
}
