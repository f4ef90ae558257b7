// The steps that ask for vehicles, and for what is wired.

import { h } from "./draw.js";
import { texts } from "./guide_texts.js";
import { group } from "./guide-fields.js";
import { newVehicle, stationName } from "./guide-sketch.js";
import { adder } from "./guide-track.js";

const pairs = (words) => Object.entries(words);

export function vehiclesStep() {
  const words = texts.vehicles;
  return {
    id: "vehicles", name: words.name, ask: words.ask, why: words.why,
    holds: (field) => field.startsWith("vehicles"),
    draw(sketch, fields, change) {
      const { vehicles } = sketch;
      const kind = vehicles.length ? "wagon" : "engine";
      return [
        h("ol", { class: "groups", key: "groups" }, vehicles.map((_, n) => vehicleFields(sketch, n, fields, change))),
        adder(words.add, () => change(() => vehicles.push(newVehicle(kind)), `vehicles.${vehicles.length}.painted`)),
      ];
    },
  };
}

function vehicleFields(sketch, n, { typed, chosen }, change) {
  const words = texts.vehicles;
  const { vehicles } = sketch;
  const vehicle = vehicles[n];
  const field = (name) => `vehicles.${n}.${name}`;
  const roads = sketch.stations.flatMap((station, s) => station.roads.map((road, r) =>
    [road.key, `${stationName(sketch, s)}, ${road.name.trim() || texts.roads.unnamed(r + 1)}`]));
  return group({
    key: vehicle.key, name: vehicle.painted.trim() || words.unnamed(n + 1), words: texts,
    up: n > 0 && (() => change(() => vehicles.splice(n - 1, 2, vehicle, vehicles[n - 1]))),
    out: () => change(() => vehicles.splice(n, 1)),
  },
  typed(vehicle, "painted", { field: field("painted"), label: words.painted }),
  chosen(vehicle, "kind", { field: field("kind"), label: words.kind, choices: pairs(words.kinds) }),
  typed(vehicle, "length", { field: field("length"), label: words.length, help: n === 0 && texts.roads.lengthHelp }),
  chosen(vehicle, "at", { field: field("at"), label: words.at, choices: [["", words.nowhere], ...roads] }),
  typed(vehicle, "tags", { field: field("tags"), label: words.tags, help: n === 0 && words.tagsHelp }));
}

export function wiredStep() {
  const words = texts.wired;
  return {
    id: "wired", name: words.name, ask: words.ask, why: words.why,
    holds: (field) => ["readers", "track", "link", "broker"].includes(field),
    draw: (sketch, { picked, typed }) => [
      picked({ field: "readers", label: words.readers, choices: pairs(words.readerChoices), value: sketch.readers, pick: (name) => { sketch.readers = name; } }),
      picked({ field: "track", label: words.track, choices: pairs(words.trackChoices), value: sketch.track ? "yes" : "no", pick: (name) => { sketch.track = name === "yes"; } }),
      isWired(sketch) && picked({ field: "link", label: words.link, choices: pairs(words.links), value: sketch.link, pick: (name) => { sketch.link = name; } }),
      isWired(sketch) && sketch.link === "mqtt" && typed(sketch, "broker", { field: "broker", label: words.broker, help: words.brokerHelp }),
      h("p", { class: "caution", key: "caution" }, words.caution),
    ],
  };
}

/** Whether anything is wired at all. */
export function isWired(sketch) {
  return sketch.readers !== "none" || sketch.track;
}
