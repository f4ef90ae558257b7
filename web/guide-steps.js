// The guide through a new railway: one question after the other, and the line as it grows beside it.
//
// Rule: the service judges each answer before the next question is asked; nothing that was typed is lost on the way.

import { h } from "./draw.js";
import { texts } from "./guide_texts.js";
import { send } from "./pin.js";
import { fieldId, fieldsOf } from "./guide-fields.js";
import { body, keepSketch, takeUp } from "./guide-sketch.js";
import { drawing } from "./guide-line.js";
import { lineStep, railwayStep, roadsStep, stationsStep } from "./guide-track.js";
import { vehiclesStep, wiredStep } from "./guide-stock.js";
import { makeStep } from "./guide-make.js";

const ANSWER_MS = 20000;

/** Makes the guide. `redraw()` draws the page anew, `announce(text)` is for those who hear it, `made(text)` is called once the folder is. */
export function guideSteps({ redraw, announce, made }) {
  const sketch = takeUp();
  let folder = "";
  let at = "railway";
  let wrongs = {};
  let tried = null;
  let asking = false;
  let fault = null;
  let focus = null;

  function steps() {
    return [
      railwayStep(folder), stationsStep(), ...sketch.stations.map((_, n) => roadsStep(sketch, n)),
      ...(sketch.stations.length > 1 ? [lineStep()] : []), vehiclesStep(), wiredStep(), makeStep(folder),
    ];
  }

  function changed(field) {
    delete wrongs[field];
    keepSketch(sketch);
    redraw();
  }

  function change(how, field) {
    how();
    wrongs = {};
    keepSketch(sketch);
    focus = field ?? "main";
    redraw();
  }

  /** To another step; with a field that is wrong there, what is wrong with the step is shown. */
  function goTo(id, field) {
    const all = steps();
    const there = all.findIndex((one) => one.id === id);
    [at, wrongs, fault, focus] = [id, {}, null, field ?? "first"];
    if (field) show(tried.findings.filter((wrong) => all[there].holds(wrong.field)));
    announce(`${texts.step(there + 1, all.length)}. ${all[there].ask}`);
    redraw();
  }

  function show(found) {
    wrongs = {};
    for (const wrong of found) wrongs[wrong.field] ??= wrong;
  }

  async function ask(url) {
    [asking, fault] = [true, null];
    redraw();
    try {
      const { status, answer } = await send(url, body(sketch), ANSWER_MS);
      if (status !== 200 || answer.accepted === false) fault = answer.text ?? texts.strange(status);
      return answer.findings ? answer : null;
    } catch {
      fault = texts.unreached;
      return null;
    } finally {
      asking = false;
      if (fault) announce(fault);
      redraw();
    }
  }

  async function forward(event) {
    event.preventDefault();
    if (asking) return;
    const all = steps();
    const here = all.findIndex((one) => one.id === at);
    if (all[here].isLast) {
      if (tried?.findings.length === 0) await make();
      return;
    }
    const answer = await ask("api/folder/try");
    if (!answer) return;
    tried = answer;
    const found = answer.findings.filter((wrong) => all[here].holds(wrong.field));
    if (!found.length) {
      goTo(all[here + 1].id);
      return;
    }
    show(found);
    focus = found[0].field;
    announce(`${texts.left(found.length)} ${found[0].message}`);
    redraw();
  }

  async function make() {
    const answer = await ask("api/folder/make");
    if (answer?.accepted) {
      keepSketch(null);
      made(answer.text);
    } else if (answer?.findings.length) tried = { ...tried, findings: answer.findings };
    redraw();
  }

  function bar(here, all) {
    const last = all[here].isLast;
    return h("div", { class: "guide-bar", key: "bar" },
      here > 0 && h("button", { class: "button", type: "button", key: "back", onclick: () => goTo(all[here - 1].id) }, texts.back),
      (!last || tried?.findings.length === 0) && h("button", { class: "button is-first", key: "next", disabled: asking },
        last ? (asking ? texts.make.making : texts.make.make) : texts.next));
  }

  function draw(told) {
    folder = told.folder;
    const all = steps();
    if (!all.some((one) => one.id === at)) at = "stations";
    const here = all.findIndex((one) => one.id === at);
    const step = all[here];
    return h("main", { class: "guide", key: "steps", id: "main", tabindex: "-1", "aria-label": texts.main },
      h("form", { class: "guide-step", key: step.id, "data-step": step.id.split("-")[0], onsubmit: forward, novalidate: true },
        h("p", { class: "guide-where" }, h("b", {}, texts.step(here + 1, all.length)), ` ${step.name}`),
        h("progress", { max: String(all.length), value: String(here + 1), "aria-hidden": "true" }),
        h("h1", {}, step.ask), h("p", {}, step.why),
        fault && h("p", { class: "field-wrong", key: "fault", "data-fault": true }, fault),
        step.draw(sketch, fieldsOf(wrongs, changed), change, { tried, steps: all, goTo }),
        step.keeps && h("p", { class: "quiet", key: "kept" }, texts.kept),
        bar(here, all)),
      drawing(sketch));
  }

  /** Once it is drawn: the field that is meant has the keyboard, and is in sight. */
  function drawn() {
    if (!focus) return;
    const wanted = focus === "first" ? document.querySelector(".guide-step input, .guide-step select, .guide-step .is-adding, .guide-step .is-first")
      : focus === "main" ? document.querySelector(".guide-step .is-adding") : document.getElementById(fieldId(focus));
    const isNew = focus === "first";
    focus = null;
    wanted?.focus({ preventScroll: true });
    if (isNew) scrollTo(0, 0);
    else wanted?.scrollIntoView({ block: "center" });
  }

  return { draw, drawn };
}
