// A whole rake pushed past one reader: its tags in the order read, each given its vehicle, all of them told as one word.
//
// Rule: what a reader has read since this was opened, each tag once, where it first came; nothing is told before somebody has
// looked at the whole list, and one undo takes all of it back.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { vehicleName } from "./vehicle.js";

/** Makes the part "A whole rake". `say(words)` tells, `redraw()` draws the page anew. */
export function rakePart({ say, redraw }) {
  let since = null;
  let reader = null;
  let isTurned = false;
  let stands = "";
  let picks = new Map();

  function change(to) {
    to();
    redraw();
  }

  function anew(picture) {
    [since, reader, isTurned, stands, picks] = [picture.session.t, null, false, "", new Map()];
  }

  /** The rake's tags from the end at which the list begins, each with the vehicle that carries it, or is to. */
  function rows(picture, at) {
    const owner = new Map(Object.values(picture.vehicles).flatMap((v) => (v.tags ?? []).map((tag) => [tag, v.id])));
    const tags = [...new Set(heard(picture).filter((read) => read.detector === at).map((read) => read.tag))];
    if (isTurned) tags.reverse();
    const line = lines(picture).find(([id]) => id === stands)?.[2] ?? [];
    const fits = line.length === tags.length;
    return tags.map((tag, i) => ({ tag, known: owner.get(tag) ?? null, pick: picks.get(tag) ?? (fits ? line[i] : "") }));
  }

  function heard(picture) {
    return picture.tagsRead.filter((read) => read.t > since);
  }

  /** The reader that is meant: the one chosen, else the first that has read a tag of no vehicle, else the first of all. */
  function meant(picture) {
    const strange = new Set(picture.strangeTags.map((one) => one.tag));
    const reads = heard(picture);
    return reader ?? (reads.find((read) => strange.has(read.tag)) ?? reads[0])?.detector ?? null;
  }

  function readers(picture, at) {
    const found = [...new Set(heard(picture).map((read) => read.detector))];
    if (found.length < 2) return null;
    return h("div", { class: "pick", key: "readers" }, h("label", { for: "reader" }, texts.rake.reader),
      h("select", { id: "reader", onchange: (event) => change(() => { reader = event.target.value; }) },
        found.map((id) => h("option", { value: id, key: id, selected: id === at }, place(picture, id)))));
  }

  /** "They stand as on": a road or train whose vehicles, in their order, are these. */
  function standing(picture, n) {
    const words = texts.rake;
    const chosen = lines(picture).find(([id]) => id === stands);
    return h("div", { class: "pick", key: "standing" }, h("label", { for: "as-on" }, words.asOn),
      h("select", { id: "as-on", onchange: (event) => change(() => { [stands, picks] = [event.target.value, new Map()]; }) },
        h("option", { value: "", key: "none", selected: !stands }, words.oneByOne),
        lines(picture).map(([id, name, line]) => h("option", { value: id, key: id, selected: id === stands }, words.line(name, line.map(picture.names.vehicle))))),
      chosen && chosen[2].length !== n && h("p", { class: "look", role: "status" }, words.unequal(chosen[2].length, n)));
  }

  function row({ tag, known, pick }, i, picture, all) {
    const words = texts.rake;
    const twice = pick && !known && all.filter((one) => (one.known ?? one.pick) === pick).length > 1;
    const vehicles = Object.values(picture.vehicles).sort((a, b) => (a.tags?.length ? 1 : 0) - (b.tags?.length ? 1 : 0));
    return h("li", { key: tag, "data-read": tag }, h("span", { class: "time rake-n" }, String(i + 1)),
      known
        ? h("b", {}, vehicleName(known, picture))
        : h("select", {
          "aria-label": words.whose(tag), class: pick ? "" : "is-open",
          onchange: (event) => change(() => picks.set(tag, event.target.value)),
        }, h("option", { value: "", key: "none", selected: !pick }, words.choose),
        vehicles.map((v) => h("option", { value: v.id, key: v.id, selected: v.id === pick }, words.vehicle(named(v.id, picture), v.tags?.length)))),
      h("code", {}, tag), twice && h("span", { class: "look" }, words.twice));
  }

  async function confirm(given) {
    const answer = await say(["tag", ...given.flatMap((one) => [one.tag, one.pick])].join(" "));
    if (answer.accepted) change(() => { [picks, stands] = [new Map(), ""]; });
  }

  function list(picture, at) {
    const words = texts.rake;
    const all = rows(picture, at);
    const open = all.filter((one) => !one.known);
    const given = open.filter((one) => one.pick);
    return [
      h("p", { key: "at" }, words.at(place(picture, at), all.length)),
      readers(picture, at),
      open.length > 0 && standing(picture, all.length),
      h("p", { class: "quiet", key: "end" }, words.end(isTurned)),
      h("ol", { class: "rake", key: "rake" }, all.map((one, i) => row(one, i, picture, all))),
      h("div", { class: "actions", key: "actions" },
        open.length > 0 && h("button", { class: "button is-first", type: "button", key: "confirm", disabled: !given.length, onclick: () => confirm(given) }, words.confirm(given.length, open.length)),
        h("button", { class: "button", type: "button", key: "turn", "aria-pressed": String(isTurned), onclick: () => change(() => { isTurned = !isTurned; }) }, words.turn),
        h("button", { class: "button", type: "button", key: "anew", onclick: () => change(() => anew(picture)) }, words.anew)),
      !open.length && h("p", { class: "asked", key: "done" }, words.allKnown),
    ];
  }

  return {
    draw(picture) {
      if (since === null) anew(picture);
      const at = meant(picture);
      return h("div", { class: "rake-part" }, h("p", { key: "how" }, texts.rake.how),
        at ? list(picture, at) : h("p", { class: "asked", key: "waits", role: "status" }, texts.rake.waits));
    },
    /** Once another address is open: the next rake begins anew. */
    left() {
      since = null;
    },
  };
}

function lines(picture) {
  const roads = picture.stations.flatMap((station) => station.roads).filter((road) => road.line.length);
  const trains = picture.trains.filter((train) => train.rake.length > 1);
  return [...roads.map((road) => [road.id, picture.names.place(road.id), road.line]), ...trains.map((train) => [`train ${train.id}`, train.id, train.rake])];
}

function place(picture, detector) {
  const found = picture.detectors.find((one) => one.id === detector);
  return found ? picture.names.place(found.where) : detector;
}

function named(id, picture) {
  const name = picture.names.vehicle(id);
  return name === id ? id : texts.vehicle(name, id);
}
