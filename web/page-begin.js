// The page "Begin and end": boards heard, things in their places, the clock; at the end what is uncertain, and the account.
//
// Rule: what the session needs somebody to do next stands first.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { part } from "./part.js";
import { boardsPart, notHeard } from "./boards.js";
import { sessionPart } from "./session.js";
import { standingPart, uncertain } from "./standing.js";
import { afterPart } from "./after.js";
import { registerPart } from "./register.js";
import { useWords, wordsPart } from "./words.js";
import { devicePart } from "./device.js";
import { folderPart } from "./folder.js";

/** Makes the page. */
export function beginPage({ say, answer, redraw, calls }) {
  const after = afterPart({ show: answer.show, use: useWords, redraw });
  const boards = boardsPart({ say });
  const clock = sessionPart({ say, redraw });
  const words = wordsPart({ say });
  const device = devicePart({ calls, redraw });
  const folder = folderPart({ redraw });

  function readiness(picture) {
    const line = (name, isReady, text) => h("li", { class: isReady ? "is-ready" : "is-open", key: name },
      h("a", { href: `#${name}`, onclick: (event) => jump(event, name) }, h("span", { class: "ready-mark", "aria-hidden": "true" }, isReady ? "✓" : "?"), text));
    const silent = notHeard(picture);
    const doubtful = uncertain(picture);
    return h("ul", { class: "readiness" },
      line("boards", !silent.length, silent.length ? texts.ready.silent(silent.map((board) => board.id)) : texts.ready.boards(picture.boards.length)),
      line("standing", !doubtful.length, doubtful.length ? texts.ready.doubtful(doubtful.length) : texts.ready.standing(Object.keys(picture.vehicles).length)));
  }

  function draw(picture) {
    const { state } = picture.session;
    const first = {
      waiting: () => [part("clock", () => [picture.railway && readiness(picture), clock(picture)]), part("boards", () => boards(picture)), part("standing", () => standingPart(picture)), folder.isThere() && part("folder", folder.draw)],
      running: () => [part("clock", () => clock(picture)), part("register", () => registerPart(picture)), part("boards", () => boards(picture))],
      ended: () => [part("after", () => after.draw(picture)), part("clock", () => clock(picture)), part("register", () => registerPart(picture)), part("boards", () => boards(picture))],
    };
    after.follow(picture);
    if (!picture.railway) return h("div", { class: "columns" }, part("clock", () => clock(picture)), folder.isThere() && part("folder", folder.draw), part("device", device));
    return h("div", { class: "columns" }, first[state](), part("telling", words), part("device", device));
  }

  return { draw, told: after.stale };
}

/** To a part of this page: the address stays, as it names pages. */
function jump(event, id) {
  event.preventDefault();
  const there = document.getElementById(id);
  there.setAttribute("tabindex", "-1");
  there.focus({ preventScroll: true });
  there.scrollIntoView();
}
