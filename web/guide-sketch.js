// The railway as it is being told, kept on this device until it is made.
//
// Rule: what was typed stays as it was typed; what it means is the service's to say.

import { keep, kept } from "./keep.js";
import { texts } from "./guide_texts.js";

const NAME = "sketch";
let last = 0;

function fresh() {
  return {
    name: "", scale: "87", clock: "4", stations: [newStation(), newStation()], vehicles: [],
    readers: "none", track: false, link: "serial", broker: "",
  };
}

/** A name for a part that it keeps whatever is put before it. */
function newKey() {
  last = Math.max(last + 1, Date.now());
  return String(last);
}

export function newStation() {
  return { key: newKey(), name: "", start: "", roads: [newRoad(texts.roads.first)], line: newLine() };
}

function newLine() {
  return { length: "", rule: "one-train", goods: "", passenger: "" };
}

export function newRoad(name) {
  return { key: newKey(), name: name ?? "", kind: name ? "running" : "siding", length: "", open: name ? ["up", "down"] : ["down"] };
}

export function newVehicle(kind) {
  return { key: newKey(), painted: "", kind, length: "", tags: "", at: "" };
}

/** What was told before on this device, else a new one. */
export function takeUp() {
  try {
    const found = JSON.parse(kept(NAME));
    if (!Array.isArray(found.stations) || !Array.isArray(found.vehicles)) return fresh();
    const stations = found.stations.map((station) => ({ start: "", ...station, line: { ...newLine(), ...station.line } }));
    return { ...fresh(), ...found, stations };
  } catch {
    return fresh();
  }
}

export function keepSketch(sketch) {
  keep(NAME, sketch ? JSON.stringify(sketch) : "");
}

/** The sketch as the service takes it. */
export function body(sketch) {
  const where = new Map();
  sketch.stations.forEach((station, n) => station.roads.forEach((road, r) => where.set(road.key, [n, r])));
  return {
    name: sketch.name, scale: sketch.scale, clock: sketch.clock,
    stations: sketch.stations.map(({ name, roads }) => ({ name, roads: roads.map(({ key, ...road }) => road) })),
    sections: sketch.stations.slice(0, -1).map(({ line }, n) => ({ ...line, start: startOf(sketch, n + 1).join(".") })),
    vehicles: sketch.vehicles.map(({ key, at, ...vehicle }) => ({ ...vehicle, at: where.get(at) ?? null })),
    readers: sketch.readers, track: sketch.track, link: sketch.link, broker: sketch.broker,
  };
}

/** The station, by its number, from which the line to station `n` comes, and the end by which it leaves there. */
export function startOf(sketch, n) {
  const [key, end] = (sketch.stations[n].start ?? "").split(".");
  const at = sketch.stations.slice(0, n).findIndex((station) => station.key === key);
  return at < 0 ? [n - 1, "down"] : [at, end];
}

/** The names of the stations to which the line leads from each end of station `n`. */
export function neighbours(sketch, n) {
  const found = { up: n > 0 ? [stationName(sketch, startOf(sketch, n)[0])] : [], down: [] };
  for (let other = n + 1; other < sketch.stations.length; other += 1) {
    const [at, end] = startOf(sketch, other);
    if (at === n) found[end].push(stationName(sketch, other));
  }
  return found;
}

/** What a station is called as long as it has no name. */
export function stationName(sketch, n) {
  return sketch.stations[n]?.name.trim() || texts.stations.unnamed(n + 1);
}
