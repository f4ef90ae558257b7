// The page as long as there is no session: a folder put right, or made; then on into the session by itself.
//
// Rule: what is to be done next stands alone on the page; the page asks time and again how the folder stands.

import { call, draw, h, soon } from "./draw.js";
import { texts } from "./guide_texts.js";
import { send } from "./pin.js";
import { faultsPage, inTheWayPage } from "./guide-check.js";
import { guideSteps } from "./guide-steps.js";

const ASK_MS = 1000;
const ANSWER_MS = 20000;
const MISSES = 3;

const place = document.getElementById("page");
let told = null;
let made = null;
let misses = 0;
let looking = false;
let fault = null;
const redraw = soon(drawAll);

function announce(text) {
  call("answers", text);
}

const guide = guideSteps({ redraw, announce, made: (text) => { made = text; announce(`${text} ${texts.opening.why}`); } });

async function look() {
  [looking, fault] = [true, null];
  redraw();
  try {
    const { status, answer } = await send("api/folder/look", {}, ANSWER_MS);
    if (answer.state) take(answer);
    else fault = answer.text ?? texts.strange(status);
    if (answer.state === "faults") announce(texts.faults.still(answer.findings.filter((finding) => finding.level === "fault").length));
  } catch {
    fault = texts.unreached;
  }
  looking = false;
  if (fault) announce(fault);
  redraw();
}

function take(answer) {
  if (answer.state === "session") location.replace("./");
  told = answer;
}

async function follow() {
  try {
    const response = await fetch("api/folder", { signal: AbortSignal.timeout(ANSWER_MS) });
    if (response.ok) take(await response.json());
    misses = 0;
  } catch {
    misses += 1;
  }
  redraw();
  setTimeout(follow, ASK_MS);
}

function inside() {
  if (!told) return h("main", { class: "waiting", key: "waiting" }, h("p", {}, texts.waiting));
  if (made || told.state === "opening" || told.state === "session") {
    return h("main", { class: "guide", key: "opening", id: "main", tabindex: "-1", "aria-label": texts.main, "data-opening": true },
      h("h1", {}, texts.opening.ask), made && h("p", {}, made), h("p", { class: "next" }, texts.opening.why));
  }
  if (told.state === "faults") return faultsPage(told, { look, looking });
  return told.in_the_way.length ? inTheWayPage(told, { look, looking }) : guide.draw(told);
}

function drawAll() {
  const isOpening = made || told?.state === "opening";
  draw(place, [
    h("header", { class: "head guide-head", key: "head" }, h("p", {}, texts.product), told && h("p", { class: "quiet" }, told.folder)),
    misses >= MISSES && h("div", { class: "banner is-frozen", key: "unreached", "data-unreached": true }, texts.unreached),
    fault && h("div", { class: "banner is-frozen", key: "fault" }, fault),
    inside(),
  ]);
  document.title = `${texts.title[isOpening ? "opening" : told?.state] ?? texts.waiting} – ${texts.product}`;
  guide.drawn();
}

follow();
drawAll();
