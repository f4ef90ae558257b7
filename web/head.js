// What stands above and below every page: the railway, its clock, whether the picture is live, and the way to each page.
//
// Rule: the same thin head everywhere, and a picture that may be old is called old before anything else is read.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { time } from "./locale.js";
import { PAGES, to } from "./route.js";
import { openOnes } from "./irregularities.js";

/** Name, clock, stream and the switch for sound; `stream` is { live, frozen, fault }, `clock` what the clock shows, `sound` the
 * button (alarm.js). */
export function headBar(picture, stream, clock, sound) {
  const session = picture?.session;
  const stopped = session?.state === "running" && !session.clock_running;
  const state = session ? texts.session.states[session.state] ?? session.state : "";
  return h("header", { class: "head", key: "head" },
    h("h1", {}, picture?.railway?.name ?? texts.product),
    h("p", { class: "head-clock" },
      h("span", { class: "unseen" }, texts.clock),
      h("span", { class: "time big", "data-clock": true }, clock ?? texts.noClock),
      h("span", { class: "head-state" }, stopped ? texts.session.stopped : state),
      h("span", { class: `stream-mark ${stream.live ? "is-live" : "is-old"}` }, streamWord(stream))),
    sound);
}

function streamWord(stream) {
  if (stream.live) return texts.stream.live;
  return stream.frozen === undefined ? texts.stream.seeking : texts.stream.old;
}

/** The links to the pages; `route` says which is open. */
export function pageLinks(picture, route) {
  const waits = picture ? picture.boards.filter((board) => board.state !== "heard").length : 0;
  const counts = { begin: waits, stock: picture ? picture.strangeTags.length : 0 };
  return h("nav", { class: "pages", "aria-label": texts.toPages, key: "pages" }, PAGES.map((page) =>
    h("a", { href: to(page), key: page, "aria-current": page === route.page ? "page" : null }, texts.pages[page],
      counts[page] > 0 && h("span", { class: "count" }, String(counts[page]), h("span", { class: "unseen" }, ` ${texts.counted[page]}`)))));
}

/** The banners: frozen, faulty, not kept, in trouble. */
export function banners(picture, stream) {
  const words = texts.stream;
  return h("div", { class: "banners", key: "banners" },
    stream.frozen !== undefined && h("div", { class: "banner is-frozen", key: "frozen", "data-frozen": true },
      h("b", {}, stream.frozen ? words.frozen(time(stream.frozen)) : words.never), h("p", {}, stream.frozen ? words.frozenHelp : words.neverHelp)),
    stream.fault && h("div", { class: "banner is-frozen", key: "fault", "data-fault": true },
      h("b", {}, words.fault), h("p", {}, words.faultHelp(stream.fault))),
    picture?.unkept && unkeptBanner(picture.unkept),
    picture?.troubles.length > 0 && h("div", { class: "banner is-frozen", key: "troubles", "data-troubles": true },
      h("b", {}, texts.now.troubles), picture.troubles.map((trouble) => h("p", { key: trouble }, trouble))));
}

/** What the disk has not taken. How much it is stands outside of what is called out, as it grows all the time. */
function unkeptBanner(unkept) {
  const words = texts.unkept;
  return h("section", { class: "banner is-unkept", key: "unkept", "aria-label": words.name, "data-unkept": unkept.goes_on ? "goes-on" : "stands-still" },
    h("div", { role: "alert" }, h("b", {}, words.since(time(unkept.since), unkept.why)),
      h("p", {}, unkept.goes_on ? words.goesOn(unkept.do) : words.standsStill(unkept.do))),
    h("p", { class: "time" }, words.lines(unkept.records)));
}

/** What the window's title says, so that another tab does not hide a danger. */
export function titleOf(picture, stream) {
  const name = picture?.railway?.name ?? texts.product;
  if (stream.frozen !== undefined) return `${stream.frozen ? texts.stream.frozen(time(stream.frozen)) : texts.stream.never} – ${name}`;
  const open = picture ? openOnes(picture) : [];
  if (open[0]?.level === "danger") return `! ${open[0].text} – ${name}`;
  return open.length ? `(${open.length}) ${name}` : name;
}
