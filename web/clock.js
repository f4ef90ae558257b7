// The session clock as it is shown: it goes on between two pictures, as the railway's own does.
//
// Rule: only while the stream is live and the clock runs; what stands in the next picture counts, yet no clock is put back by a
// picture that was on its way for a moment.

import { time } from "./locale.js";

const ON_THE_WAY_S = 2;

/** Makes the clock's face: `face(picture, isLive)` is what it shows, in words; null where there is none. */
export function clockFace() {
  let shown = null;

  return (picture, isLive) => {
    const session = picture?.session;
    const told = seconds(session?.clock);
    if (told === null) {
      shown = null;
      return null;
    }
    if (!isLive && shown !== null) return face(shown);
    const rate = picture.railway?.clock_rate || 1;
    const since = session.clock_running ? (Date.now() - picture.receivedAt) / 1000 : 0;
    const s = Math.floor(told + Math.max(0, since) * rate);
    const isBack = shown !== null && s < shown && shown - s < ON_THE_WAY_S * rate && session.clock_running;
    if (!isBack) shown = s;
    return face(shown);
  };
}

function seconds(text) {
  const parts = /^(\d+):(\d\d):(\d\d)$/.exec(text ?? "");
  return parts ? Number(parts[1]) * 3600 + Number(parts[2]) * 60 + Number(parts[3]) : null;
}

function face(s) {
  const two = (n) => String(n).padStart(2, "0");
  return time(`${two(Math.floor(s / 3600))}:${two(Math.floor(s / 60) % 60)}:${two(s % 60)}`);
}
