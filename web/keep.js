// What this device remembers from visit to visit: the page, the working, the operator's name, how it looks and sounds.
//
// Rule: a browser that forbids storage goes on all the same, with nothing remembered.

const OURS = "numbertaker-";

/** What was kept under a name, or "". */
export function kept(name) {
  try {
    return localStorage.getItem(OURS + name) ?? "";
  } catch {
    return "";
  }
}

/** Keep a text under a name; "" forgets it. */
export function keep(name, text) {
  try {
    if (text) localStorage.setItem(OURS + name, text);
    else localStorage.removeItem(OURS + name);
  } catch {
    // nothing is remembered then
  }
}
