// The railway folder beside a session: what `check` says of it, with its own lines, and which files have nothing in them yet.
//
// Rule: it is read when somebody looks, never by itself; what is in force is not touched.

import { h } from "./draw.js";
import { texts } from "./guide_texts.js";
import { findings } from "./guide-check.js";
import { send } from "./pin.js";

const ANSWER_MS = 20000;

/** Makes the part "The railway folder": `isThere()` once the service has told of one, and `draw()`. */
export function folderPart({ redraw }) {
  let told = null;
  let asked = false;
  let looking = false;
  let fault = null;
  let looked = false;

  async function ask() {
    asked = true;
    try {
      const response = await fetch("api/folder", { signal: AbortSignal.timeout(ANSWER_MS) });
      if (response.ok) told = await response.json();
    } catch {
      asked = false; // with the next picture it is asked again
    }
    redraw();
  }

  async function look() {
    [looking, fault] = [true, null];
    redraw();
    try {
      const { status, answer } = await send("api/folder/look", {}, ANSWER_MS);
      if (answer.state) [told, looked] = [answer, true];
      else fault = answer.text ?? texts.strange(status);
    } catch {
      fault = texts.unreached;
    }
    looking = false;
    redraw();
  }

  return {
    isThere() {
      if (!asked) ask();
      return told !== null;
    },
    draw() {
      const words = texts.folder;
      const faults = told.findings.some((finding) => finding.level === "fault");
      return h("div", { class: "folder" },
        h("p", { class: "quiet" }, told.folder),
        fault && h("p", { class: "look" }, fault),
        told.lacks.length > 0 && h("dl", { class: "lacks", key: "lacks" }, told.lacks.map((name) => h("div", { key: name }, h("dt", {}, h("code", {}, name)), h("dd", {}, words.lacks[name])))),
        told.findings.length > 0
          ? h("details", { class: "fold", key: "found" }, h("summary", {}, words.found(told.findings.length)), findings(told.findings))
          : h("p", { key: "good" }, words.good),
        looked && h("p", { class: faults ? "look" : "quiet", key: "looked" }, faults ? words.refused : words.next),
        h("div", { class: "actions", key: "look" },
          h("button", { class: "button", type: "button", onclick: look, disabled: looking }, looking ? texts.faults.looking : texts.faults.look)));
    },
  };
}
