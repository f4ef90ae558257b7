// The line on which an operator tells anything in words, and the list of those words.
//
// Rule: whatever a button tells can be told here too.

import { h } from "./draw.js";
import { texts } from "./texts.js";

/** Put words on the line for telling, what is to be filled in selected. */
export function useWords(words) {
  const field = document.getElementById("words");
  field.value = words;
  field.focus();
  const hole = words.search(/[A-Z]/);
  if (hole >= 0) field.setSelectionRange(hole, words.length);
}

/** Makes the part "Tell in words". `say(words)` tells. */
export function wordsPart({ say }) {
  async function send(event) {
    event.preventDefault();
    const field = event.target.elements.words;
    const words = field.value.trim();
    if (!words) return;
    const answer = await say(words);
    if (answer.accepted && field.value.trim() === words) field.value = "";
  }

  return () => [
    h("form", { class: "words", key: "words", onsubmit: send },
      h("label", { for: "words" }, texts.session.words),
      h("input", {
        id: "words", name: "words", maxlength: "1000", autocomplete: "off", autocapitalize: "none", spellcheck: "false",
        "aria-describedby": "words-help",
      }),
      h("button", { class: "button" }, texts.session.tell),
      h("p", { id: "words-help", class: "quiet" }, texts.session.wordsHelp)),
    h("details", { class: "fold", key: "help" }, h("summary", {}, texts.session.help),
      h("ul", { class: "word-list" }, texts.words.map(([words, when]) => h("li", { key: words },
        h("div", {}, h("code", {}, words), h("span", { class: "quiet" }, when)),
        h("button", { class: "button", type: "button", "aria-label": `${texts.session.use}: ${words}`, onclick: () => useWords(words) }, texts.session.use))))),
  ];
}
