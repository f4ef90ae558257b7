// The session's clock: begun, stopped, set going again, ended.
//
// Rule: only what can be told now is offered; to end the session takes two taps.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { to } from "./route.js";

/** Makes the part "Session clock". `say(words)` tells, `redraw()` draws the page anew. */
export function sessionPart({ say, redraw }) {
  let ending = false;

  const button = (text, words, first) => h("button", {
    class: first ? "button is-first" : "button", type: "button", key: words, onclick: () => say(words),
  }, text);

  function beginForm(picture) {
    const first = picture.trains.flatMap((t) => t.calls).map((c) => c.depart ?? c.arrive).filter(Boolean).sort()[0];
    return h("form", {
      class: "begin", key: "begin",
      onsubmit: (event) => {
        event.preventDefault();
        const at = event.target.elements.at.value;
        if (at) say(`begin ${at}`);
      },
    },
    h("label", { for: "begin-at" }, texts.session.beginAt),
    h("input", { id: "begin-at", name: "at", type: "time", value: first ? first.slice(0, 5) : "19:00", required: true }),
    h("button", { class: "button is-first" }, texts.session.begin));
  }

  function setEnding(on) {
    ending = on;
    redraw();
  }

  function clockButtons(session) {
    if (ending) {
      return h("div", { class: "actions", key: "ending" }, h("p", {}, texts.session.sureEnd),
        h("button", { class: "button is-first", type: "button", onclick: () => { say("end"); setEnding(false); } }, texts.session.yesEnd),
        h("button", { class: "button", type: "button", onclick: () => setEnding(false) }, texts.session.noEnd));
    }
    return h("div", { class: "actions", key: "clock" },
      session.clock_running ? button(texts.session.stop, "stop-clock") : button(texts.session.goOn, "go-on", true),
      h("button", { class: "button", type: "button", onclick: () => setEnding(true) }, texts.session.end));
  }

  return (picture) => {
    const { session, railway } = picture;
    const words = texts.session;
    const next = !railway ? words.noRailway : words.next[session.state === "running" && !session.clock_running ? "stopped" : session.state];
    return h("div", { class: "session" },
      h("div", { class: "next", key: "next" }, h("p", { "data-next": true }, next),
        session.state === "running" && session.clock_running && h("a", { class: "button is-first", href: to("line") }, words.toLine)),
      railway && (session.state === "running" ? clockButtons(session) : beginForm(picture)),
      railway && h("p", { class: "quiet" }, [railway?.clock_rate && words.rate(railway.clock_rate), words.journal(session.journal)].filter(Boolean).join("; ")));
  };
}
