// A part of a page: a section with its name.
//
// Rule: a part that cannot be drawn says so in its own place, and the others go on.

import { h } from "./draw.js";
import { texts } from "./texts.js";

/** The section `name` (its words are in texts.parts), with what `inside()` describes. No part is named like a page: a browser
 * would go to it where the address names that. */
export function part(name, inside) {
  let children;
  try {
    children = inside();
  } catch (error) {
    console.error(error);
    children = h("p", { class: "banner is-frozen", "data-faulty": name }, texts.stream.drawing(texts.parts[name], error.message));
  }
  return h("section", { class: `part part-${name}`, id: name, key: name, "aria-labelledby": `${name}-name` },
    h("h2", { id: `${name}-name` }, texts.parts[name]), children);
}
