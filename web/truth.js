// What really happens, beside what is believed: on simulated boards, where it is known.
//
// Rule: where the one differs from the other is worked out by the service; here it is only drawn. What differs is marked by a
// sign and by words, and who would rather guess along puts it away.

import { h } from "./draw.js";
import { keep, kept } from "./keep.js";
import { texts } from "./texts.js";
import { span } from "./picture.js";
import { vehicleNames } from "./vehicle.js";
import { blocks } from "./strip.js";

const AGAIN_MS = 500;
const LEAST_MS = 200;
const ANSWER_MS = 4000;

/** Asks for the truth while it is shown. `redraw()` draws the page anew; `of(picture)` is what the line draws, or null. */
export function truthBeside({ redraw }) {
  let isShown = kept("truth") !== "away";
  let told = null;
  let fault = null;
  let isThere = false;
  let asking = false;
  let askedAt = -LEAST_MS;

  async function ask() {
    if (!isThere || !isShown || asking || document.visibilityState === "hidden") return;
    if (performance.now() - askedAt < LEAST_MS) return;
    asking = true;
    askedAt = performance.now();
    try {
      const response = await fetch("api/truth", { signal: AbortSignal.timeout(ANSWER_MS) });
      const answer = await response.json();
      if (response.ok) [told, fault] = [answer, null];
      else fault = answer.text ?? texts.answer.strange(response.status);
    } catch {
      fault = texts.truth.unreached;
    }
    asking = false;
    redraw();
  }

  function toggle() {
    isShown = !isShown;
    keep("truth", isShown ? "" : "away");
    told = null;
    askedAt = -LEAST_MS;
    redraw();
    ask();
  }

  setInterval(ask, AGAIN_MS);

  return {
    /** A picture has come: whether there is a truth beside it. */
    arrived(picture) {
      isThere = Boolean(picture?.truth);
      ask();
    },
    of: (picture) => (isThere && isShown && told && !fault ? reading(told, picture) : null),
    box: (picture) => isThere && truthBox(picture, { isShown, told, fault, toggle }),
  };
}

/** The truth as the line draws it, a stretch at a time; `picture` is the given one with what is elsewhere marked. */
function reading(told, picture) {
  const elsewhere = new Set(told.wrong.flatMap((row) => row.vehicles ?? []));
  const marked = (ids, change) => ({ ...picture, vehicles: { ...picture.vehicles, ...Object.fromEntries(ids
    .filter((id) => picture.vehicles[id])
    .map((id) => [id, { ...picture.vehicles[id], differs: elsewhere.has(id), ...change(id) }])) } });
  const asItIs = ({ line, partly }) => marked(line, (id) => ({
    train: told.trains[id] ?? null, sure: 1, by: "seen", fouls: [], partly: partly.includes(id),
  }));
  const stripOf = (stretch) => told.strips[stretch] ?? { line: [], partly: [] };
  return {
    picture: marked([...elsewhere], () => ({})),
    line: (stretch) => stripOf(stretch).line,
    strip: (stretch, look, style, mmPx, turned) => h("div", { class: `strip is-true ${look}`, style },
      blocks(stripOf(stretch).line, asItIs(stripOf(stretch)), mmPx, turned)),
    words: (stretch) => trueWords(stretch, told, picture),
  };
}

/** What is true of one stretch, in words: the same, or what is otherwise. */
function trueWords(stretch, told, picture) {
  const rows = told.wrong.filter((row) => row.strips.includes(stretch));
  const [mark, word] = rows.length ? ["≠", texts.truth.differs] : told.strips[stretch]?.fresh ? ["…", texts.truth.fresh] : ["=", texts.truth.same];
  const token = told.tokens[stretch];
  return h("p", { class: "caption true-words", "data-true": stretch, "data-differs": String(rows.length > 0) },
    h("span", { class: "true-mark" }, sign(mark), " ", word),
    rows.map((row, index) => [" ", h("span", { class: "differs-words", key: `${row.what} ${index}` }, hereWords(row, stretch, picture))]),
    " ", token && h("span", { key: "token" }, token.station ? texts.truth.tokenAt(picture.names.station(token.station)) : texts.truth.tokenWith(token.train)));
}

function hereWords(row, stretch, picture) {
  const words = texts.truth.here;
  const { names } = picture;
  if (row.what === "elsewhere") {
    const who = vehicleNames(row.vehicles, picture);
    return row.true.includes(stretch) ? words.is(who, names.place(row.believed)) : words.isNot(who, places(row.true, names));
  }
  return words[row.what]?.(vehicleNames(row.true, picture), row.believed.join(", ")) ?? row.what;
}

function places(list, names) {
  return list.map(names.place).join(", ");
}

function truthBox(picture, { isShown, told, fault, toggle }) {
  const words = texts.truth;
  return h("section", { class: "truth", key: "truth", "data-truth": isShown ? "shown" : "away", "aria-labelledby": "truth-name" },
    h("div", { class: "truth-head" },
      h("p", {}, h("b", { id: "truth-name", class: "truth-name" }, words.name), words.only),
      h("button", { class: "button", type: "button", "aria-pressed": String(isShown), onclick: toggle }, words.show)),
    isShown && h("h3", { id: "truth-wrong" }, words.wrongNow),
    isShown && h("div", { class: "truth-list", tabindex: "0", role: "region", "aria-labelledby": "truth-wrong" },
      fault ? h("p", { class: "look" }, words.fault(fault)) : told ? wrongList(told, picture) : h("p", { class: "quiet" }, words.seeking)));
}

function sign(text) {
  return h("span", { class: "true-sign", "aria-hidden": "true" }, text);
}

function wrongList(told, picture) {
  if (!told.wrong.length) return h("p", {}, sign("="), " ", texts.truth.nowhere);
  return h("ul", { class: "wrong-now" }, told.wrong.map((row, index) => h("li", { key: `${row.what} ${row.where ?? row.train ?? row.vehicles} ${index}`, "data-wrong": row.what },
    sign("≠"),
    h("span", {}, wrongWords(row, picture)),
    h("span", { class: "quiet time" }, texts.truth.since(span(row.since_s), row.runs)))));
}

function wrongWords(row, picture) {
  const { names } = picture;
  const words = texts.truth.wrong;
  const list = (ids) => vehicleNames(ids, picture);
  switch (row.what) {
    case "elsewhere": return words.elsewhere(list(row.vehicles), names.place(row.believed), places(row.true, names));
    case "rake": return words.rake(row.train, row.believed.length ? list(row.believed) : null, row.true.length ? list(row.true) : null);
    case "section": return words.section(names.place(row.where), row.believed.join(", "), row.true.join(", "));
    default: return words[row.what]?.(names.place(row.where), list(row.true), list(row.believed)) ?? row.what;
  }
}
