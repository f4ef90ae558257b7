// Dark or bright: as the system has it, or as somebody has chosen on this device.
//
// Rule: the colours of both stand in tokens.css; here is only which of them counts.

import { keep, kept } from "./keep.js";

/** What may be chosen, in the order of the buttons. */
export const LOOKS = ["system", "bright", "dark"];

const system = matchMedia("(prefers-color-scheme: dark)");

/** What is chosen on this device. */
export function chosenLook() {
  return LOOKS.includes(kept("look")) ? kept("look") : "system";
}

/** Choose, and look so at once. */
export function chooseLook(look) {
  keep("look", look === "system" ? "" : look);
  apply();
}

function apply() {
  const chosen = chosenLook();
  document.documentElement.dataset.look = chosen !== "system" ? chosen : system.matches ? "dark" : "bright";
}

system.addEventListener("change", apply);
apply();
