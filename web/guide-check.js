// What `check` says of a folder: each finding with the lines of its file, as they stand there.
//
// Rule: the file's own words are shown as text, the line that is meant marked by its number, by shape and by weight.

import { h } from "./draw.js";
import { texts } from "./guide_texts.js";

const SHAPES = { fault: "danger", conflict: "caution", advice: "note" };

/** A list of findings. */
export function findings(found) {
  return h("ul", { class: "cards", key: "findings" }, found.map((finding, n) => card(finding, n)));
}

function card(finding, n) {
  const words = texts.faults;
  return h("li", { class: "card finding", key: `${finding.file} ${finding.line} ${finding.column} ${n}`, "data-finding": finding.level },
    h("p", { class: `level is-${SHAPES[finding.level]}` }, h("span", { class: "level-shape", "aria-hidden": "true" }), words.levels[finding.level]),
    h("p", { class: "finding-at" }, h("b", {}, words.at(finding.file, finding.line))),
    finding.rows.length > 0 && h("pre", { tabindex: "0" }, finding.rows.map((row) =>
      h("span", { class: row.line === finding.line ? "row is-meant" : "row", key: String(row.line) },
        h("span", { class: "row-number" }, `${row.line === finding.line ? "▸" : " "}${row.line}`.padStart(5)), ` ${row.text}\n`))),
    h("p", {}, finding.message),
    h("p", { class: "remedy" }, finding.remedy));
}

/** The page of a folder with faults; `look()` reads it anew, `looking` while that goes on. */
export function faultsPage(told, { look, looking }) {
  const words = texts.faults;
  const faults = told.findings.filter((finding) => finding.level === "fault");
  const others = told.findings.filter((finding) => finding.level !== "fault");
  return h("main", { class: "guide", key: "faults", id: "main", tabindex: "-1", "aria-label": texts.main },
    h("h1", {}, words.ask),
    h("p", {}, words.why(told.folder)),
    h("p", { class: "big-count" }, words.count(faults.length, others.length)),
    findings(faults),
    others.length > 0 && h("details", { class: "fold", key: "others" }, h("summary", {}, words.others), findings(others)),
    told.left_out > 0 && h("p", { class: "quiet", key: "left-out" }, words.leftOut(told.left_out)),
    lookBar(look, looking));
}

/** Files that stand where new ones would be written. */
export function inTheWayPage(told, { look, looking }) {
  const words = texts.inTheWay;
  return h("main", { class: "guide", key: "in-the-way", id: "main", tabindex: "-1", "aria-label": texts.main },
    h("h1", {}, words.ask), h("p", {}, words.why(told.folder, told.in_the_way)), lookBar(look, looking));
}

function lookBar(look, looking) {
  const words = texts.faults;
  return h("div", { class: "guide-bar", key: "bar" },
    h("button", { class: "button is-first", type: "button", onclick: look, disabled: looking }, looking ? words.looking : words.look));
}
