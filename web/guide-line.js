// The line as it grows: stations below each other, their roads as strips to length, what stands on them as blocks.
//
// Rule: a strip is open where its road is; where a length is not yet known, none is pretended.

import { h } from "./draw.js";
import { texts } from "./guide_texts.js";
import { startOf, stationName } from "./guide-sketch.js";

const UNITS = { "": 1, mm: 1, cm: 10, m: 1000, in: 25.4, '"': 25.4, ft: 304.8, "'": 304.8 };

/** About how long something is, to draw it; null where that cannot be seen. */
function about(typed) {
  const match = /^\s*([\d\s]+(?:[.,]\d+)?)\s*([a-z]*|"|')\s*$/i.exec(typed);
  const mm = match ? Number(match[1].replace(/\s/g, "").replace(",", ".")) * UNITS[match[2].toLowerCase()] : NaN;
  return mm > 0 ? mm : null;
}

/** The drawing of a sketch. */
export function drawing(sketch) {
  const named = sketch.stations.some((station) => station.name.trim());
  const longest = Math.max(1, ...sketch.stations.flatMap((station) => station.roads.map((road) => about(road.length) ?? 0)));
  return h("section", { class: "drawing", key: "drawing", "aria-label": texts.drawing.name },
    h("h2", {}, texts.drawing.name),
    named
      ? h("ol", {}, sketch.stations.flatMap((station, n) => [stationItem(sketch, n, longest), n + 1 < sketch.stations.length && line(sketch, n)]))
      : h("p", { class: "quiet" }, texts.drawing.empty));
}

function stationItem(sketch, n, longest) {
  const station = sketch.stations[n];
  return h("li", { class: "drawn-station", key: station.key }, h("b", {}, stationName(sketch, n)),
    h("ul", {}, station.roads.map((road) => roadItem(sketch, road, longest))));
}

function roadItem(sketch, road, longest) {
  const mm = about(road.length);
  const share = mm ? Math.max(4, 100 * mm / longest) : 100;
  const there = sketch.vehicles.filter((vehicle) => vehicle.at === road.key);
  const ends = ["up", "down"].filter((end) => road.open.includes(end)).map((end) => `open-${end}`).join(" ");
  return h("li", { class: "drawn-road", key: road.key },
    h("span", { class: "drawn-name" }, road.name.trim() || "–", mm ? h("span", { class: "quiet" }, ` ${texts.drawing.mm(Math.round(mm))}`) : ""),
    h("span", { class: `drawn-strip ${ends}${mm ? "" : " is-unknown"}`, style: { width: `${share.toFixed(1)}%` } },
      there.map((vehicle) => h("span", {
        class: `drawn-block kind-${vehicle.kind}`, key: vehicle.key, title: vehicle.painted,
        style: { width: `${(100 * (about(vehicle.length) ?? 80) / (mm ?? 1500)).toFixed(1)}%` },
      }, vehicle.painted.trim()))));
}

function line(sketch, n) {
  const station = sketch.stations[n];
  const [start] = startOf(sketch, n + 1);
  const mm = about(station.line.length);
  return h("li", { class: "drawn-line", key: `line ${station.key}` }, h("span", { class: "quiet" }, texts.drawing.line(mm && Math.round(mm), start !== n && stationName(sketch, start))));
}
