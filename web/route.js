// Which page is open, and what of it: the part of the address behind "#".
//
// Rule: #page, #page/what or #page/what/id; an address that names no page leads to the one last open on this device.

import { keep, kept } from "./keep.js";

/** The pages in the order of their links. A new one stands here, in texts.js and in app.js. */
export const PAGES = ["begin", "line", "work", "stock"];

/** Where the address leads: { page, what, id }; `what` and `id` are "" where it names none. */
export function here() {
  const [page, what = "", id = ""] = location.hash.slice(1).split("/").map(plain);
  if (PAGES.includes(page)) return { page, what, id };
  return { page: PAGES.includes(kept("page")) ? kept("page") : "", what: "", id: "" };
}

/** The address of a page, of something on it. */
export function to(page, what, id) {
  return `#${[page, what, id].filter(Boolean).map(encodeURIComponent).join("/")}`;
}

/** Go there. */
export function go(page, what, id) {
  location.hash = to(page, what, id);
}

/** Call `changed()` each time the address leads elsewhere, and remember the page. */
export function followRoute(changed) {
  addEventListener("hashchange", () => {
    keep("page", here().page);
    changed();
  });
}

function plain(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text; // an address typed by hand
  }
}
