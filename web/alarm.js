// Calls out: dangers by sound and vibration once somebody has allowed it, and on wish all that is wrong or confirmed by voice.
//
// Rule: never twice for the same cause, also when the page is opened anew; a danger that is acknowledged is silent.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { keep, kept } from "./keep.js";
import { openOnes } from "./irregularities.js";
import { plainSentence } from "./register.js";

const NOTES_HZ = [880, 660, 880, 660];
const NOTE_S = 0.18;
const VIBRATION_MS = [400, 150, 400];
const CONFIRMED = ["arrived", "departed", "lifted", "set-out", "cleared"];

/** `announce(text)` is for those who hear the page. */
export function alarm({ announce, redraw }) {
  let audio = null;
  let heardN = null;
  let spoken = new Set();
  let announced = "";

  function wake() {
    if (kept("sound") !== "on") return;
    audio ??= globalThis.AudioContext ? new AudioContext() : null;
    audio?.resume().then(redraw);
  }

  function ring() {
    if (kept("sound") !== "on") return;
    navigator.vibrate?.(VIBRATION_MS);
    if (audio?.state !== "running") return;
    NOTES_HZ.forEach((hz, i) => {
      const note = audio.createOscillator();
      note.frequency.value = hz;
      note.connect(audio.destination);
      note.start(audio.currentTime + i * NOTE_S);
      note.stop(audio.currentTime + (i + 0.8) * NOTE_S);
    });
  }

  function speak(text) {
    if (kept("speech") !== "on" || !globalThis.speechSynthesis) return;
    const words = new SpeechSynthesisUtterance(text);
    words.lang = texts.language;
    speechSynthesis.speak(words);
  }

  function toggle(name, after) {
    keep(name, kept(name) === "on" ? "" : "on");
    after();
    redraw();
  }

  /** The dangers that have not rung yet in this session on this device. */
  function fresh(dangers, session) {
    const before = JSON.parse(kept("rung") || '{"journal":0,"ids":[]}');
    const ids = session.state === "running" && session.journal >= before.journal ? before.ids : [];
    const found = dangers.filter((danger) => !ids.includes(danger.id)).map((danger) => danger.id);
    const now = [...ids, ...found];
    if (now.join() !== before.ids.join()) keep("rung", JSON.stringify({ journal: session.journal, ids: now }));
    return found;
  }

  function sayConfirmed(picture) {
    const newest = picture.outcomes.at(-1)?.n ?? 0;
    const mine = kept("working");
    const news = heardN === null ? [] : picture.outcomes.filter((o) => o.n > heardN && CONFIRMED.includes(o.says) && (!mine || o.train === mine));
    heardN = newest;
    if (!globalThis.speechSynthesis?.pending) for (const outcome of news) speak(plainSentence(outcome, picture));
  }

  addEventListener("pointerdown", wake);
  addEventListener("keydown", wake);

  return {
    /** A picture: what has come up since the last one is called out. */
    hear(picture) {
      if (!picture) return;
      const open = openOnes(picture);
      const dangers = open.filter((item) => item.level === "danger" && !item.acknowledged);
      if (fresh(dangers, picture.session).length) ring();
      const ids = dangers.map((danger) => danger.id).join(" ");
      if (ids !== announced) announce(dangers.map((danger) => `${texts.levels.danger}. ${danger.text} ${danger.do}`).join(" "));
      announced = ids;
      for (const item of open.filter((i) => i.level !== "note" && !spoken.has(i.id))) speak(`${texts.levels[item.level]}. ${item.text} ${item.do}`);
      spoken = new Set(open.map((item) => item.id));
      sayConfirmed(picture);
    },
    /** The switch in the head. */
    button() {
      const on = kept("sound") === "on";
      const words = !on ? texts.alarm.off : audio?.state === "running" ? texts.alarm.on : texts.alarm.tap;
      return h("button", {
        class: "button sound", type: "button", "aria-pressed": String(on), title: texts.alarm.soundHelp, "data-sound": on ? "on" : "off",
        onclick: () => toggle("sound", wake),
      }, words);
    },
    /** The switch for the voice, among what this device is set to. */
    voice() {
      const on = kept("speech") === "on";
      return h("div", { class: "setting" },
        h("button", { class: "button", type: "button", "aria-pressed": String(on), "data-speech": on ? "on" : "off", onclick: () => toggle("speech", () => speak(texts.alarm.speaks)) }, texts.alarm.speak),
        h("p", { class: "quiet" }, globalThis.speechSynthesis ? texts.alarm.speakHelp : texts.alarm.noSpeech));
    },
  };
}
