// The session's clock, and the line on which an operator tells anything in words.
//
// Rule: only what can be told now is offered; to end the session takes two taps.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { keepWho, whoIs } from "./tell.js";
import { afterPart } from "./after.js";

/** Makes the part "Session". `say(words)` tells, `show(answer)` shows an answer, `redraw()` draws the page anew. */
export function sessionPart({ say, show, redraw }) {
  let ending = false;
  const after = afterPart({ show, use, redraw });

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

  function wordsForm() {
    return h("form", {
      class: "words", key: "words",
      onsubmit: (event) => {
        event.preventDefault();
        const field = event.target.elements.words;
        const words = field.value.trim();
        if (!words) return;
        say(words).then((answer) => {
          if (answer.accepted && field.value.trim() === words) field.value = "";
          if (answer.accepted) after.again();
        });
      },
    },
    h("label", { for: "words" }, texts.session.words),
    h("input", {
      id: "words", name: "words", maxlength: "400", autocomplete: "off", autocapitalize: "none", spellcheck: "false",
      "aria-describedby": "words-help",
    }),
    h("button", { class: "button is-first" }, texts.session.tell),
    h("p", { id: "words-help", class: "quiet" }, texts.session.wordsHelp));
  }

  function use(words) {
    const field = document.getElementById("words");
    field.value = words;
    field.focus();
    const hole = words.search(/[A-Z]/);
    if (hole >= 0) field.setSelectionRange(hole, words.length);
  }

  function help() {
    return h("details", { class: "fold", key: "help" }, h("summary", {}, texts.session.help),
      h("ul", { class: "word-list" }, texts.words.map(([words, when]) => h("li", { key: words },
        h("div", {}, h("code", {}, words), h("span", { class: "quiet" }, when)),
        h("button", { class: "button", type: "button", "aria-label": `${texts.session.use}: ${words}`, onclick: () => use(words) }, texts.session.use)))));
  }

  return (picture) => {
    const { session, railway } = picture;
    return h("div", { class: "card session" },
      h("p", { class: "where" }, h("b", { class: "time big" }, session.clock ?? texts.noClock),
        h("span", {}, texts.session.states[session.state] ?? session.state),
        session.state === "running" && !session.clock_running && h("span", { class: "look" }, texts.session.stopped)),
      h("p", { class: "quiet" }, [railway?.clock_rate && texts.session.rate(railway.clock_rate), texts.session.journal(session.journal)].filter(Boolean).join("; ")),
      session.state === "running" ? clockButtons(session) : beginForm(picture),
      after.draw(picture),
      wordsForm(),
      help(),
      h("div", { class: "who", key: "who" }, h("label", { for: "who" }, texts.session.who),
        h("input", { id: "who", maxlength: "40", autocomplete: "nickname", value: whoIs(), oninput: (event) => keepWho(event.target.value.trim()) }),
        h("p", { class: "quiet" }, texts.session.whoHelp)));
  };
}
