// Tells the service an operator's words, and keeps the operator's name on this device.
//
// Rule: whatever happens, the operator gets one plain sentence back.

import { keep, kept } from "./keep.js";
import { send } from "./pin.js";
import { texts } from "./texts.js";

const ANSWER_MS = 8000;

/** The name kept on this device, or "". */
export function whoIs() {
  return kept("who");
}

/** Keep the name on this device. */
export function keepWho(name) {
  keep("who", name);
}

/** Tell words; resolves to { accepted, text, n, words } and never rejects. */
export async function tell(words, who) {
  try {
    const { status, answer } = await send("api/tell", { words, who: who || null }, ANSWER_MS);
    return { accepted: answer.accepted === true, text: answer.text ?? texts.answer.strange(status), n: answer.n ?? null, words };
  } catch {
    return { accepted: false, text: texts.answer.unreached, n: null, words };
  }
}
