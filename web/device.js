// What this device is set to: whose it is, how it looks, whether it speaks.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { chooseLook, chosenLook, LOOKS } from "./look.js";
import { kept } from "./keep.js";
import { deviceName, keepWho } from "./tell.js";

/** Makes the part "This device". `calls` is the alarm, `redraw()` draws the page anew. */
export function devicePart({ calls, redraw }) {
  const words = texts.device;

  function choose(look) {
    chooseLook(look);
    redraw();
  }

  return () => h("div", { class: "device" },
    h("div", { class: "who", key: "who" }, h("label", { for: "who" }, words.who),
      h("input", { id: "who", maxlength: "40", autocomplete: "nickname", value: kept("who"), placeholder: deviceName(), oninput: (event) => keepWho(event.target.value.trim()) }),
      h("p", { class: "quiet" }, words.whoHelp(deviceName()))),
    h("div", { class: "setting", role: "group", "aria-label": words.look, key: "look" },
      LOOKS.map((look) => h("button", {
        class: "button", key: look, type: "button", "aria-pressed": String(chosenLook() === look), "data-choose": look, onclick: () => choose(look),
      }, words.looks[look]))),
    calls.voice());
}
