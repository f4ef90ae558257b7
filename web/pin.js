// Sends what acts upon the service, with the PIN that this device keeps.
//
// Rule: the PIN is asked for only once the service wants it, and again where it was wrong; what was to be sent is not lost.

import { draw, h } from "./draw.js";
import { keep, kept } from "./keep.js";
import { texts } from "./pin_texts.js";

let asked = null;

/** Send a body as JSON; resolves to { status, answer }. Rejects where the service is not reached within `waitMs`. */
export async function send(url, body, waitMs) {
  let got = await post(url, body, waitMs);
  while (got.status === 401) {
    asked ??= ask(got.answer.text).finally(() => { asked = null; });
    const pin = await asked;
    if (!pin) return { status: 401, answer: { accepted: false, text: texts.none, n: null } };
    keep("pin", pin);
    got = await post(url, body, waitMs);
    if (got.status === 401) keep("pin", "");
  }
  return got;
}

async function post(url, body, waitMs) {
  const pin = kept("pin");
  const response = await fetch(url, {
    method: "POST",
    headers: { "Content-Type": "application/json", ...(pin && { "Numbertaker-Pin": pin }) },
    body: JSON.stringify(body),
    signal: AbortSignal.timeout(waitMs),
  });
  return { status: response.status, answer: await response.json() };
}

/** The dialog; resolves to what was typed, or "" where it was left. `why` is the service's own sentence. */
function ask(why) {
  const dialog = document.createElement("dialog");
  dialog.className = "card";
  dialog.setAttribute("aria-label", texts.name);
  dialog.style.setProperty("max-width", "24rem");
  return new Promise((resolve) => {
    const leave = () => dialog.close();
    const give = (event) => {
      event.preventDefault();
      resolve(event.target.elements.pin.value.trim());
      leave();
    };
    draw(dialog, h("form", { onsubmit: give, class: "vehicle-card" },
      h("p", {}, why),
      h("label", { for: "pin" }, texts.label),
      h("input", { id: "pin", name: "pin", inputmode: "numeric", autocomplete: "off", maxlength: "12", required: true, "aria-describedby": "pin-help" }),
      h("p", { id: "pin-help", class: "quiet" }, texts.help),
      h("div", { class: "actions" }, h("button", { class: "button is-first" }, texts.give),
        h("button", { class: "button", type: "button", onclick: leave }, texts.leave))));
    dialog.addEventListener("close", () => {
      resolve("");
      dialog.remove();
    });
    document.body.append(dialog);
    dialog.showModal();
  });
}
