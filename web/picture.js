// One picture as the page reads it: the snapshot with nothing missing, and names for its ids.
//
// Rule: names and wording only; whatever the page shows was decided by the service.

import { texts } from "./texts.js";

const LISTS = ["stations", "sections", "trains", "moves", "irregularities", "boards", "detectors", "troubles", "told", "drawn"];

/** The picture of a stream's data, null while the service has drawn none yet; `last` is the picture before, which may be the same
 * one sent again. */
export function read(data, last) {
  const snapshot = data.snapshot ?? {};
  if (!snapshot.session) return null;
  const picture = {
    version: data.version,
    outcomes: data.outcomes ?? [],
    railway: snapshot.railway ?? null,
    session: snapshot.session,
    vehicles: snapshot.vehicles ?? {},
    unkept: snapshot.unkept ?? null,
    truth: data.truth ?? false,
    receivedAt: isSame(data, snapshot, last) ? last.receivedAt : Date.now(),
  };
  for (const list of LISTS) picture[list] = snapshot[list] ?? [];
  picture.strangeTags = snapshot.strange_tags ?? [];
  picture.tagsRead = snapshot.tags_read ?? [];
  picture.names = namesOf(picture);
  return picture;
}

function isSame(data, { session }, last) {
  return data.version === last?.version && session.t === last.session.t && session.journal === last.session.journal;
}

function namesOf({ stations, sections, vehicles, detectors }) {
  const station = new Map(stations.map((s) => [s.id, s.name || s.id]));
  const place = new Map();
  const road = new Map();
  for (const s of stations) {
    for (const one of s.roads) {
      place.set(one.id, `${station.get(s.id)} ${one.name}`);
      road.set(one.id, one.name);
    }
    for (const throat of s.throats) place.set(throat.id, `${station.get(s.id)}, ${texts.line.throat(texts.line.ends[throat.end] ?? throat.end)}`);
  }
  const ofEnd = (throat) => station.get(throat.split(".")[0]) ?? throat;
  for (const section of sections) place.set(section.id, `${ofEnd(section.from)}–${ofEnd(section.to)}`);
  place.set("off", texts.line.off);
  const rules = new Map(sections.map((s) => [s.id, s.rule]));
  const named = (id) => place.get(id) ?? station.get(id) ?? texts.line.ends[id] ?? id ?? "";
  return {
    station: (id) => station.get(id) ?? id ?? "",
    place: (id) => (id?.includes("@") ? texts.line.at(...id.split("@").map(named)) : named(id)),
    road: (id) => road.get(id) ?? named(id),
    vehicle: (id) => vehicles[id]?.painted || id || "",
    unknown: (stretch) => detectors.find((d) => d.kind === "track" && d.where === stretch && d.state === "unknown")?.why ?? null,
    why: (section, why) => texts.line.authorities[rules.get(section)]?.[why] ?? station.get(why) ?? why,
  };
}

/** "plain", "probably" or "look": the wording that a sureness asks for (the contract's bounds). */
export function howSure(sure) {
  if (sure >= 0.95) return "plain";
  return sure >= 0.6 ? "probably" : "look";
}

/** Words with their sureness. */
export function withSure(words, sure) {
  const how = howSure(sure);
  if (how === "plain") return words;
  return how === "probably" ? texts.sure.probably(words) : texts.sure.look;
}

/** How long ago host second `t` was, going on between pictures. */
export function age(picture, t) {
  return span(Math.max(0, Math.round(picture.session.t - t + (Date.now() - picture.receivedAt) / 1000)));
}

/** A span of time in words; `seconds` of it. */
export function span(seconds) {
  if (seconds < 120) return texts.age.seconds(Math.round(seconds));
  return seconds < 7200 ? texts.age.minutes(Math.round(seconds / 60)) : texts.age.hours(Math.round(seconds / 3600));
}
