// Tells the service an operator's words, and keeps the operator's name on this device.
//
// Rule: whatever happens, the operator gets one plain sentence back.

import { keep, kept } from "./keep.js";
import { send } from "./pin.js";
import { texts } from "./texts.js";

const ANSWER_MS = 8000;
const FIRST = 2;
const NUMBERS = 98;
let number = "";

/** Whose this device is: the name kept on it, else what the device is called. */
export function whoIs() {
  return kept("who") || deviceName();
}

/** What a device is called that nobody has given a name: this machine, or a number drawn once and kept. */
export function deviceName() {
  if (/^(localhost|127(\.\d+){3}|\[::1\])$/.test(location.hostname)) return texts.device.machine;
  if (!number) {
    number = kept("device") || String(FIRST + Math.floor(Math.random() * NUMBERS));
    keep("device", number);
  }
  return texts.device.phone(number);
}

/** Keep the name on this device. */
export function keepWho(name) {
  keep("who", name);
}

/** Tell words; resolves to { accepted, text, n, words } and never rejects. */
export async function tell(words, who) {
  try {
    const { status, answer } = await send("api/tell", { words, who }, ANSWER_MS);
    return { accepted: answer.accepted === true, text: answer.text ?? texts.answer.strange(status), n: answer.n ?? null, words };
  } catch {
    return { accepted: false, text: texts.answer.unreached, n: null, words };
  }
}
