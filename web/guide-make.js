// The last step: what will be written, what comes after, and the button that writes it.
//
// Rule: nothing is written that was not shown here.

import { h } from "./draw.js";
import { texts } from "./guide_texts.js";
import { findings } from "./guide-check.js";
import { isWired } from "./guide-stock.js";

export function makeStep(folder) {
  const words = texts.make;
  return {
    id: "make", name: words.name, ask: words.ask, why: words.why(folder), isLast: true,
    holds: () => false,
    draw(sketch, _fields, _change, { tried, steps, goTo }) {
      if (!tried) return [h("p", { class: "quiet", key: "asking" }, texts.waiting)];
      if (tried.findings.length) return [wrongList(tried.findings, steps, goTo)];
      return [
        h("div", { class: "after", key: "after" }, h("h2", {}, words.after), h("dl", {}, next(sketch).map(([name, text]) =>
          h("div", { key: name }, h("dt", {}, h("code", {}, name)), h("dd", {}, text))))),
        tried.check.length > 0 && h("details", { class: "fold", key: "check" }, h("summary", {}, words.check(tried.check.length)), findings(tried.check)),
        h("h2", { key: "files" }, words.files),
        Object.entries(tried.texts).map(([name, text]) => h("details", { class: "fold", key: name, "data-file": name }, h("summary", {}, name), h("pre", { tabindex: "0" }, text))),
      ];
    },
  };
}

function next(sketch) {
  const { timetable, moves, check, boards } = texts.make.next;
  return [isWired(sketch) && boards, timetable, moves, check].filter(Boolean);
}

function wrongList(wrongs, steps, goTo) {
  const words = texts.make;
  return h("div", { key: "wrong" }, h("p", { class: "look" }, words.wrong), h("ul", { class: "groups" }, wrongs.map((wrong) => {
    const step = steps.find((one) => one.holds(wrong.field));
    return h("li", { class: "group", key: wrong.field }, h("p", {}, h("b", {}, wrong.message), ` ${wrong.remedy}`),
      step && h("button", { class: "button", type: "button", onclick: () => goTo(step.id, wrong.field) }, words.toIt(step.name)));
  })));
}
