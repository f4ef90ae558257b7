// The page: takes each picture from the stream and has every part draw it.
//
// Rule: a part that cannot be drawn says so in its own place, and the others go on. No rule of the railway lives here.

import { h, draw } from "./draw.js";
import { follow } from "./stream.js";
import { tell, whoIs } from "./tell.js";
import { texts } from "./texts.js";
import { read } from "./picture.js";
import { banners, headBar, nextThing, partLinks, titleOf } from "./head.js";
import { irregularitiesPart, openOnes } from "./irregularities.js";
import { legend, lineRows, measure } from "./line.js";
import { drawRails } from "./rails.js";
import { trainsPart } from "./trains.js";
import { boardsPart } from "./boards.js";
import { sessionPart } from "./session.js";
import { registerPart } from "./register.js";
import { truthBeside } from "./truth.js";

const ANSWER_MS = 8000;
const AGES_MS = 1000;

const page = document.getElementById("page");
const stream = { live: false, frozen: undefined, fault: null };
let picture = null;
let answer = null;
let answerTimer = 0;
let planned = false;
let called = "";
let watched = null;

function redraw() {
  if (planned) return;
  planned = true;
  setTimeout(() => {
    planned = false;
    drawPage();
  });
}

async function say(words) {
  show({ words, text: texts.answer.telling(words), accepted: null });
  const got = await tell(words, whoIs());
  show(got);
  return got;
}

function show(given) {
  clearTimeout(answerTimer);
  answer = given;
  if (given?.accepted) answerTimer = setTimeout(() => show(null), ANSWER_MS);
  announce("answers", given && given.accepted !== null ? `${verdictOf(given)} ${given.text}` : "");
  redraw();
}

function verdictOf(given) {
  if (given.accepted === null) return "";
  return given.accepted ? texts.answer.taken(given.n) : texts.answer.refused;
}

function announce(id, text) {
  const region = document.getElementById(id);
  if (region.textContent !== text) region.textContent = text;
}

const truth = truthBeside({ redraw });
const parts = {
  irregularities: irregularitiesPart({ say, redraw }),
  line: linePart,
  trains: trainsPart,
  boards: boardsPart({ say }),
  session: sessionPart({ say, show, redraw }),
  register: registerPart,
};

function partOf(name) {
  let inside;
  try {
    inside = parts[name](picture);
  } catch (error) {
    inside = faulty(name, error);
  }
  return h("section", { class: `part part-${name}`, id: name, key: name, "aria-labelledby": `${name}-name`, tabindex: "-1" },
    h("h2", { id: `${name}-name` }, texts.parts[name]), inside);
}

function faulty(name, error) {
  console.error(error);
  return h("p", { class: "banner is-frozen", "data-faulty": name }, texts.stream.drawing(texts.parts[name], error.message));
}

function drawPage() {
  drawParts();
  if (picture && !page.querySelector(".plan .line-row")) drawParts(); // the line needs to know how wide its place has become
  layRails();
  document.title = titleOf(picture, stream);
  callOut();
}

function drawParts() {
  const old = stream.frozen !== undefined || stream.fault || picture?.unkept?.goes_on === false ? "is-old" : "";
  const main = picture
    ? h("main", { class: `parts-place ${old}`, key: "main" },
      h("div", { class: "upper" },
        h("div", { class: "to-do" }, nextThing(picture), partOf("irregularities")),
        h("div", { class: "running" }, partOf("line"), partOf("trains"))),
      h("div", { class: "keeping" }, ["boards", "session", "register"].map(partOf)))
    : h("main", { class: "waiting", key: "waiting" }, h("p", {}, texts.stream.first));
  draw(page, [
    h("div", { class: "top", key: "top" }, headBar(picture, stream), partLinks(picture), banners(picture, stream, say)),
    main,
    answer && answerBar(),
  ]);
}

function answerBar() {
  const look = answer.accepted === null ? "is-telling" : answer.accepted ? "is-taken" : "is-refused";
  return h("div", { class: `answer ${look}`, key: "answer", "data-answer": look },
    h("p", {}, h("b", {}, verdictOf(answer)), answer.text),
    h("button", { class: "button", type: "button", onclick: () => show(null) }, texts.answer.close));
}

function callOut() {
  const dangers = picture ? openOnes(picture).filter((i) => i.level === "danger" && !i.acknowledged) : [];
  const ids = dangers.map((danger) => danger.id).join(" ");
  if (ids === called) return;
  called = ids;
  announce("calls", dangers.map((danger) => `${texts.levels.danger}. ${danger.text} ${danger.do}`).join(" "));
}

function linePart(given) {
  const width = page.querySelector(".plan")?.clientWidth ?? 0;
  return [
    truth.box(given),
    h("div", { class: "plan", key: "plan" },
      h("div", { class: "rows" }, width ? lineRows(given, measure(given, width), truth.of(given)) : null),
      h("svg", { class: "rails", "aria-hidden": "true", own: true })),
    legend(),
  ];
}

/** Rails follow the strips, so they are drawn once those lie in their places. */
function layRails() {
  const plan = page.querySelector(".plan");
  if (!plan) return;
  if (plan !== watched) {
    watched = plan;
    new ResizeObserver(redraw).observe(plan);
  }
  drawRails(plan, plan.querySelector("svg"));
}

follow("api/stream", {
  picture(data) {
    try {
      picture = read(data);
      truth.arrived(picture);
      stream.fault = null;
    } catch (error) {
      stream.fault = error.message;
    }
    redraw();
  },
  fault(data) {
    stream.fault = data.text;
    redraw();
  },
  frozen(time) {
    Object.assign(stream, { live: false, frozen: time });
    redraw();
  },
  live() {
    Object.assign(stream, { live: true, frozen: undefined });
    redraw();
  },
});
setInterval(redraw, AGES_MS);
drawPage();
