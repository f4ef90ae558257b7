// The steps that ask for what is screwed down: the railway, its stations, their roads, the line between.
//
// Rule: a step asks one question; `holds(field)` says which fields of the sketch are its own.

import { h } from "./draw.js";
import { texts } from "./guide_texts.js";
import { group } from "./guide-fields.js";
import { neighbours, newRoad, newStation, startOf, stationName } from "./guide-sketch.js";

const pairs = (words) => Object.entries(words);

export function railwayStep(folder) {
  const words = texts.railway;
  return {
    id: "railway", name: words.name, ask: words.ask, why: words.why(folder), keeps: true,
    holds: (field) => ["name", "scale", "clock"].includes(field),
    draw: (sketch, { typed }) => [
      typed(sketch, "name", { field: "name", label: words.called, size: "is-big" }),
      typed(sketch, "scale", { field: "scale", label: words.scale, help: words.scaleHelp, mode: "decimal" }),
      typed(sketch, "clock", { field: "clock", label: words.clock, help: words.clockHelp, mode: "decimal" }),
    ],
  };
}

export function stationsStep() {
  const words = texts.stations;
  return {
    id: "stations", name: words.name, ask: words.ask, why: words.why,
    holds: (field) => /^(stations(\.\d+\.name)?|sections\.\d+\.start)$/.test(field),
    draw(sketch, { typed, chosen, general }, change) {
      const { stations } = sketch;
      return [
        general("stations"),
        h("ol", { class: "groups", key: "groups" }, stations.map((station, n) => group({
          key: station.key, name: stationName(sketch, n), words: texts,
          up: n > 0 && (() => change(() => stations.splice(n - 1, 2, station, stations[n - 1]))),
          out: stations.length > 1 && (() => change(() => stations.splice(n, 1))),
        }, typed(station, "name", { field: `stations.${n}.name`, label: words.called(n + 1), size: "is-big" }),
        n > 1 && chosen({ key: station.key, start: `${stations[startOf(sketch, n)[0]].key}.${startOf(sketch, n)[1]}`, set start(to) { station.start = to; } }, "start", {
          field: `sections.${n - 1}.start`, label: words.start, choices: starts(sketch, n),
        })))),
        adder(words.add, () => change(() => stations.push(newStation()), `stations.${stations.length}.name`)),
      ];
    },
  };
}

export function roadsStep(sketch, n) {
  const words = texts.roads;
  const name = stationName(sketch, n);
  return {
    id: `roads-${sketch.stations[n].key}`, name: words.name(name), ask: words.ask(name), why: words.why,
    holds: (field) => field.startsWith(`stations.${n}.roads`),
    draw(_, fields, change) {
      const { roads } = sketch.stations[n];
      return [
        fields.general(`stations.${n}.roads`),
        h("ol", { class: "groups", key: sketch.stations[n].key }, roads.map((road, r) => roadFields(sketch, [n, r], fields, change))),
        adder(words.add, () => change(() => roads.push(newRoad()), `stations.${n}.roads.${roads.length}.name`)),
      ];
    },
  };
}

function roadFields(sketch, [n, r], { typed, chosen, ticked }, change) {
  const words = texts.roads;
  const { roads } = sketch.stations[n];
  const road = roads[r];
  const field = (name) => `stations.${n}.roads.${r}.${name}`;
  const towards = neighbours(sketch, n);
  const ends = pairs(words.ends).map(([end, text]) => [end, [text, words.endsHelp(towards[end])].filter(Boolean).join(" ")]);
  return group({
    key: road.key, name: road.name.trim() || words.unnamed(r + 1), words: texts,
    out: roads.length > 1 && (() => change(() => roads.splice(r, 1))),
  },
  typed(road, "name", { field: field("name"), label: words.called }),
  typed(road, "length", { field: field("length"), label: words.length, help: r === 0 && words.lengthHelp }),
  chosen(road, "kind", { field: field("kind"), label: words.kind, choices: pairs(words.kinds) }),
  ticked({
    field: field("open"), label: words.open, choices: ends, values: road.open,
    tick: (end, on) => { road.open = ["up", "down"].filter((one) => (one === end ? on : road.open.includes(one))); },
  }));
}

export function lineStep() {
  const words = texts.line;
  return {
    id: "line", name: words.name, ask: words.ask, why: words.why,
    holds: (field) => field.startsWith("sections") && !field.endsWith(".start"),
    draw: (sketch, { typed, chosen, general }) => [
      general("sections"),
      h("ol", { class: "groups", key: "groups" }, sketch.stations.slice(0, -1).map((station, n) =>
        h("li", { class: "group", key: station.key }, h("h2", {}, words.between(stationName(sketch, startOf(sketch, n + 1)[0]), stationName(sketch, n + 1))),
          h("div", { class: "fields" },
            typed(station.line, "length", { field: `sections.${n}.length`, label: words.length, help: n === 0 && texts.roads.lengthHelp }),
            chosen(station.line, "rule", { field: `sections.${n}.rule`, label: words.rule, choices: pairs(words.rules) }),
            ["goods", "passenger"].map((kind) => typed(station.line, kind, {
              field: `sections.${n}.${kind}`, label: words.minutes[kind], help: n === 0 && kind === "goods" && words.minutesHelp, mode: "decimal",
            })))))),
    ],
  };
}

/** From where the line to station `n` may come: each end of each station further up, the usual one first. */
function starts(sketch, n) {
  const ends = sketch.stations.slice(0, n).flatMap((station, at) => ["down", "up"].map((end) => [`${station.key}.${end}`, texts.stations.from(stationName(sketch, at), end)]));
  return [...ends.slice(-2), ...ends.slice(0, -2)];
}

export function adder(text, add) {
  return h("button", { class: "button is-adding", type: "button", key: "add", onclick: add }, text);
}
