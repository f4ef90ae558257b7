// What is wrong now, on every page: how many dangers and cautions, the worst in words with what to do, and all of it at one tap.
//
// Rule: said once. Nothing else on a page says that nothing is wrong.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { to } from "./route.js";
import { levelMark, openOnes } from "./irregularities.js";

/** The bar; `route` is where the address leads, `say(words)` tells; `isWhole`: the picture is live and all that it rests on works. */
export function wrongBar(picture, route, say, isWhole) {
  const words = texts.wrong;
  const open = openOnes(picture);
  const shown = route.what === "wrong";
  if (!open.length) {
    const href = shown ? to(route.page) : to(route.page, "wrong");
    return h("section", { class: "wrong is-none", key: "wrong", "aria-label": words.name, "data-now": "none" },
      h("a", { class: "to-card", href }, h("b", {}, isWhole ? words.none : words.noneKnown), h("span", { class: "to-card-word" }, shown ? words.close : words.earlier)));
  }
  const first = open.find((item) => !item.acknowledged && item.level === open[0].level) ?? open[0];
  const isDanger = first.level === "danger";
  return h("section", {
    class: `wrong is-${first.level}` + (first.acknowledged ? " is-known" : ""), key: "wrong", "aria-label": words.name,
    "data-now": first.level, "data-danger": isDanger ? first.id : null,
  },
  h("a", { class: "to-card", href: shown ? to(route.page) : to(route.page, "wrong", first.id) },
    h("span", { class: "wrong-counts" }, counts(open)),
    h("span", { class: "to-card-word" }, shown ? words.close : words.show),
    h("b", {}, first.text),
    first.do && h("span", { class: "do" }, first.do)),
  isDanger && !first.acknowledged && h("div", { class: "actions" },
    h("button", { class: "button", type: "button", onclick: () => say(`acknowledge ${first.id}`) }, texts.irregularities.acknowledge)));
}

/** How many dangers and cautions are open; notes where there is nothing else. */
function counts(open) {
  const grave = ["danger", "caution"].filter((level) => open.some((item) => item.level === level));
  return (grave.length ? grave : ["note"]).map((level) => {
    const n = open.filter((item) => item.level === level).length;
    return h("span", { class: "wrong-count", key: level }, h("b", { class: "wrong-n" }, String(n)), " ", levelMark(level, n));
  });
}
