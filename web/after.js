// What is written down once a session has ended: what is uncertain first, what changes, and one button.
//
// Rule: nothing is written that has not been shown here; where something has changed since, it is shown anew, and until it is
// nothing can be agreed to.

import { h } from "./draw.js";
import { send } from "./pin.js";
import { texts } from "./texts.js";
import { howSure } from "./picture.js";

const ANSWER_MS = 60000;

/** Makes what is shown after `end`: `draw(picture)`, `follow(picture)` with each picture, and `stale()` once something was told.
 * `show(answer)` shows an answer as any other, `use(words)` puts words on the line for telling. */
export function afterPart({ show, use, redraw }) {
  let offer = null;
  let fault = null;
  let asking = null;
  let isAgreeing = false;
  let isThere = true;
  let isStale = true;

  /** Asks what there is to write down, unless that is being asked already; ends once it is shown. */
  function ask() {
    asking ??= fetchOffer().finally(() => { asking = null; });
    return asking;
  }

  async function fetchOffer() {
    if (!isThere) return;
    isStale = false;
    try {
      const response = await fetch("api/after", { signal: AbortSignal.timeout(ANSWER_MS) });
      isThere = response.status !== 404;
      const answer = isThere ? await response.json() : null;
      if (response.ok) [offer, fault] = [answer, null];
      else fault = answer?.text ?? texts.answer.strange(response.status);
    } catch {
      fault = texts.after.unreached;
    }
    redraw();
  }

  async function agree(token) {
    const words = texts.after.write;
    isAgreeing = true;
    show({ words, text: texts.answer.telling(words), accepted: null });
    const told = await written(token);
    await asking;
    await ask();
    isAgreeing = false;
    show({ ...told, n: null, words });
  }

  async function written(token) {
    try {
      const { status, answer } = await send("api/after", { token }, ANSWER_MS);
      return { accepted: answer.accepted === true, text: answer.text ?? texts.answer.strange(status) };
    } catch {
      return { accepted: false, text: texts.after.unreached };
    }
  }

  function vehicleRow(row, picture, words) {
    const name = row.painted ? texts.vehicle(row.painted, row.vehicle) : row.vehicle;
    const where = row.order ? texts.after.at(picture.names.place(row.place), row.order) : picture.names.place(row.place);
    return h("li", { key: row.vehicle, "data-after": row.vehicle },
      h("div", {}, h("b", {}, name), h("span", {}, ` ${where}`), h("span", { class: "quiet" }, words)),
      row.look && h("button", { class: "button", type: "button", onclick: () => use(`stands ${row.vehicle} ${row.place}`) }, texts.after.settle));
  }

  function vehicleList(heading, rows, picture, wordsOf) {
    return rows.length > 0 && h("div", { key: heading }, h("h3", {}, heading),
      h("ul", { class: "word-list" }, rows.map((row) => vehicleRow(row, picture, wordsOf(row)))));
  }

  function changeWords(row, picture) {
    const words = row.change && (texts.after.changes[row.change] ?? row.change);
    return row.was && row.was !== row.place ? texts.after.from(words, picture.names.place(row.was)) : words;
  }

  function shown(picture) {
    const words = texts.after;
    const { vehicles, moves, findings, rows } = offer;
    const found = findings.filter((finding) => finding.new);
    return [
      vehicleList(words.look, vehicles.filter((row) => row.look), picture, (row) => [words.sure[howSure(row.sure)], changeWords(row, picture)].filter(Boolean).join("; ")),
      vehicleList(words.change, vehicles.filter((row) => row.change && !row.look), picture, (row) => changeWords(row, picture)),
      moves.length > 0 && h("div", { key: "moves" }, h("h3", {}, words.moves),
        h("ul", {}, moves.map((m) => h("li", { key: `${m.line}` }, words.move(picture.names.vehicle(m.vehicle), picture.names.place(m.start), picture.names.place(m.end)), m.note && h("span", { class: "look" }, ` ${m.note}`))))),
      found.length > 0 && h("details", { class: "fold", key: "found" }, h("summary", {}, words.found(found.length)),
        h("ul", {}, found.map((f) => h("li", { key: `${f.file} ${f.line} ${f.message}` }, `${f.message} ${f.remedy}`)))),
      Object.entries(rows).map(([name, text]) => h("details", { class: "fold", key: name }, h("summary", {}, name), h("pre", { tabindex: "0" }, text))),
    ];
  }

  function inside(picture) {
    const words = texts.after;
    if (!isThere) return h("p", { class: "quiet" }, words.account);
    return h("div", { class: "after", key: "after" },
      fault && h("p", { class: "look" }, fault),
      !fault && !offer && h("p", { class: "quiet" }, words.seeking),
      offer?.text && h("p", { class: "look" }, offer.text),
      offer?.session && shown(picture),
      h("div", { class: "actions", key: "agree" },
        offer?.token && !offer.written && h("button", { class: "button is-first", type: "button", disabled: isAgreeing, onclick: () => agree(offer.token) }, words.write),
        offer?.written && h("p", { "data-written": true }, words.written),
        h("button", { class: "button", type: "button", onclick: ask }, words.again)),
      h("p", { class: "quiet", key: "account" }, words.account));
  }

  /** With each picture: what was offered counts until another session begins. */
  function follow(picture) {
    if (picture.session.state !== "ended") [offer, isStale] = [null, true];
    else if (isStale) ask();
  }

  return { draw: inside, follow, stale: () => { isStale = true; } };
}
