// What stands above every part: name, session clock, whether the picture is live, dangers, and the next thing to do.
//
// Rule: whoever looks for the first time finds the next thing to do here, and a danger is seen from every part of the page.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { cardId, levelMark, openOnes } from "./irregularities.js";

/** Name, clock and stream; `stream` is { live, frozen, fault }. */
export function headBar(picture, stream) {
  const session = picture?.session;
  const words = !stream.live ? (stream.frozen === undefined ? texts.stream.seeking : null) : texts.stream.live;
  const state = session ? texts.session.states[session.state] ?? session.state : "";
  const stopped = session?.state === "running" && !session.clock_running;
  return h("header", { class: "head" },
    h("h1", {}, picture?.railway?.name ?? texts.product),
    h("p", { class: "head-clock" },
      h("span", { class: "unseen" }, texts.clock),
      h("span", { class: "time big", "data-clock": true }, session?.clock ?? texts.noClock),
      h("span", { class: "head-state" }, stopped ? texts.session.stopped : state),
      words && h("span", { class: `stream-mark ${stream.live ? "is-live" : ""}` }, words)));
}

/** The banners: frozen, faulty, not kept, in trouble, and danger. `say(words)` tells. */
export function banners(picture, stream, say) {
  const words = texts.stream;
  const dangers = picture ? openOnes(picture).filter((i) => i.level === "danger") : [];
  return h("div", { class: "banners", key: "banners" },
    stream.frozen !== undefined && h("div", { class: "banner is-frozen", key: "frozen", "data-frozen": true },
      h("b", {}, stream.frozen ? words.frozen(stream.frozen) : words.never), h("p", {}, stream.frozen ? words.frozenHelp : words.neverHelp)),
    stream.fault && h("div", { class: "banner is-frozen", key: "fault", "data-fault": true },
      h("b", {}, words.fault), h("p", {}, words.faultHelp(stream.fault))),
    picture?.unkept && unkeptBanner(picture.unkept),
    picture?.troubles.length > 0 && h("div", { class: "banner is-frozen", key: "troubles", "data-troubles": true },
      h("b", {}, texts.now.troubles), picture.troubles.map((trouble) => h("p", { key: trouble }, trouble))),
    dangers.length > 0 && dangerBanner(dangers, say));
}

/** What the disk has not taken. How much it is stands outside of what is called out, as it grows all the time. */
function unkeptBanner(unkept) {
  const words = texts.unkept;
  return h("section", { class: "banner is-unkept", key: "unkept", "data-unkept": unkept.goes_on ? "goes-on" : "stands-still" },
    h("div", { role: "alert" }, h("b", {}, words.since(unkept.since, unkept.why)),
      h("p", {}, unkept.goes_on ? words.goesOn(unkept.do) : words.standsStill(unkept.do))),
    h("p", { class: "time" }, words.lines(unkept.records)));
}

/** What is wrong, and the way to its card; what to do is repeated here only where there is room (the style decides). */
function dangerBanner(dangers, say) {
  const first = dangers.find((danger) => !danger.acknowledged) ?? dangers[0];
  const words = texts.irregularities;
  return h("section", { class: first.acknowledged ? "banner is-danger is-known" : "banner is-danger", key: "danger", "data-danger": first.id, "aria-label": texts.levels.danger },
    h("a", { class: "to-card", href: `#${cardId(first)}` }, levelMark("danger"), h("b", {}, first.text),
      h("span", { class: "to-card-word" }, dangers.length > 1 ? words.bannerMore(dangers.length - 1) : words.show)),
    h("p", { class: "do" }, first.do),
    !first.acknowledged && h("div", { class: "actions" },
      h("button", { class: "button", type: "button", onclick: () => say(`acknowledge ${first.id}`) }, words.acknowledge)));
}

/** The links to the parts, with what is open in them. */
export function partLinks(picture) {
  const open = picture ? openOnes(picture).length : 0;
  const lost = picture ? picture.boards.filter((b) => b.state === "lost").length : 0;
  const counts = { irregularities: open, boards: lost };
  return h("nav", { class: "parts", "aria-label": texts.toParts, key: "parts" }, Object.entries(texts.parts).map(([part, word]) =>
    h("a", { href: `#${part}`, key: part }, partWord(part, word), counts[part] > 0 && h("span", { class: "count" }, String(counts[part])))));
}

function partWord(part, word) {
  const short = texts.shortParts[part];
  return short ? [h("span", { class: "if-narrow" }, short), h("span", { class: "if-wide" }, word)] : word;
}

/** The next thing to do, where no danger says it already. */
export function nextThing(picture) {
  const words = texts.now;
  const { session, railway } = picture;
  const open = openOnes(picture);
  const say = (text, href, link, first) => h("section", { class: "next", "aria-label": words.heading, key: "next" },
    h("p", {}, h("b", { class: "next-name" }, words.heading), h("span", { "data-next": true }, text)), href && h("a", { class: first ? "button is-first" : "button", href }, link));
  if (!railway) return say(words.noRailway);
  if (open.length && open[0].level !== "danger") {
    const more = open.length > 1 ? words.more(open.length - 1) : texts.irregularities.show;
    return say(open[0].do || open[0].text, "#irregularities", more);
  }
  if (open.length) return null;
  if (session.state === "waiting") return say(words.begin, "#session", words.toBegin, true);
  if (session.state === "ended") return say(words.ended, "#session", words.toWrite, true);
  if (!session.clock_running) return say(words.stopped, "#session", words.toGoOn, true);
  return say(words.fine);
}

/** What the window's title says, so that another tab does not hide a danger. */
export function titleOf(picture, stream) {
  const name = picture?.railway?.name ?? texts.product;
  if (stream.frozen !== undefined) return `${stream.frozen ? texts.stream.frozen(stream.frozen) : texts.stream.never} – ${name}`;
  const open = picture ? openOnes(picture) : [];
  if (open[0]?.level === "danger") return `! ${open[0].text} – ${name}`;
  return open.length ? `(${open.length}) ${name}` : name;
}
