// The line, drawn from the plant by itself: stations along it, their roads to scale, the sections between them.
//
// Rule: every length of road and vehicle has the same scale, the largest at which the longest road fits.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { count } from "./locale.js";
import { layOut, longestRun } from "./layout.js";
import { roadsOf, rowOf, STEP_PX } from "./moved.js";
import { blocks, caption, stateMark, whyMark } from "./strip.js";

// At a letter size of 16 pixels; all of them grow with that.
const GUTTER_PX = 22;
const FAN_PX = 26;
const SECTION_PX = 132;
const STATION_PX = 250;
const INSET_PX = 14;

/** What the line measures in a place `width` pixels wide, its letters `rem` times 16 pixels: how many stations abreast, and
 * pixels a millimetre. Drawn `shrunk`, it has more room, yet as many abreast, so that the drawing stands still. */
export function measure(picture, width, rem, shrunk) {
  const inner = Math.max(width - 2 * GUTTER_PX, 200);
  const sectionPx = SECTION_PX * rem;
  const most = Math.max(1, Math.floor((inner * shrunk + sectionPx) / (STATION_PX * rem + sectionPx)));
  const stations = longestRun(picture.stations, picture.sections);
  const perRow = Math.ceil(stations / Math.ceil(stations / Math.min(most, stations)));
  const rows = layOut(picture.stations, picture.sections, perRow);
  const depth = Math.max(0, ...rows.map((row) => row.depth));
  const station = (inner - 2 * INSET_PX * depth - (perRow - 1) * sectionPx) / perRow;
  const longest = Math.max(1, ...picture.stations.flatMap((s) => s.roads).map((road) => Math.max(road.length_mm, road.stands_mm)));
  return { perRow, rows, rem, sectionPx, mmPx: (station - 2 * FAN_PX - 4) / longest, inner };
}

/** The rows of the line. `shown`: what else is drawn: `truth` (truth.js), where it is shown, gives each stretch a second strip;
 * `marks(place)` and `choice(place)` describe what stands beside the name of a place; `arrange`, where the drawing is being changed,
 * what changes it. */
export function lineRows(given, measures, shown) {
  const { truth } = shown;
  const picture = truth ? truth.picture : given;
  const at = { ...measures, ...shown, picture };
  const stations = new Map(picture.stations.map((s) => [s.id, s]));
  const sections = new Map(picture.sections.map((s) => [s.id, s]));
  const columns = Array.from({ length: 2 * at.perRow - 1 }, (_, i) => (i % 2 ? `${at.sectionPx}px` : "minmax(0, 1fr)")).join(" ");
  return at.rows.map((row) => h("div", {
    class: "line-row", "data-depth": String(row.depth), key: row.cells.map((cell) => cell.id).join(" "),
    style: { "grid-template-columns": columns, "margin-left": `${GUTTER_PX + row.depth * INSET_PX}px`, "margin-right": `${GUTTER_PX + row.depth * INSET_PX}px` },
  }, row.cells.map((cell) => (cell.kind === "station"
    ? stationCell(stations.get(cell.id), cell, at)
    : sectionCell(sections.get(cell.id), cell, row.depth, at)))));
}

function stationCell(station, cell, at) {
  const [left, right] = cell.turned ? ["down", "up"] : ["up", "down"];
  const throat = Object.fromEntries(station.throats.map((t) => [t.end, t]));
  const roads = roadsOf(at.picture, station);
  const { down } = rowOf(at.picture, station.id);
  return h("section", {
    class: "station", key: station.id, "data-station": station.id, "data-left": left,
    "data-up": throat.up?.state ?? "unwatched", "data-down": throat.down?.state ?? "unwatched",
    style: { "grid-column": String(cell.column + 1), "padding-top": `${down * STEP_PX * at.rem}px` }, "aria-label": station.name || station.id,
  },
  h("h3", {}, station.name || station.id),
  at.arrange?.station(station.id),
  roads.map((road) => roadRow(road, left, right, cell.turned, at, at.arrange?.road(road, roads))),
  [throat[left], throat[right]].filter(Boolean).map((t) => throatRow(t, t.end === left, cell.turned, at)),
  h("div", { class: "beside", key: "beside" }, at.marks(station.id)));
}

function roadRow(road, left, right, turned, at, moves) {
  const { picture, mmPx } = at;
  const open = { left: road.open.includes(left), right: road.open.includes(right) };
  const lies = open.left === open.right ? "middle" : open.left ? "left" : "right";
  const over = road.stands_mm - road.length_mm;
  const room = h("span", { class: over > 0 ? "room is-over" : "room", key: "room" },
    over > 0 ? texts.line.over(count(over)) : texts.line.stands(count(road.stands_mm), count(road.length_mm)));
  const look = `stands-${lies}` + (open.left ? "" : " stop-left") + (open.right ? "" : " stop-right");
  const style = { width: `${(road.length_mm * mmPx).toFixed(1)}px` };
  return h("div", { class: "road", key: road.id, "data-place": road.id },
    h("p", { class: "road-name" }, h("b", {}, road.name), stateMark(road.state), whyMark(road.state, picture.names.unknown(road.id))),
    h("div", { class: `strip-place lies-${lies}`, "aria-hidden": "true" },
      h("div", {
        class: `strip is-${road.state} ${look}`, style, "data-open": road.open.join(" "), "data-kind": road.kind,
      }, blocks(road.line, picture, mmPx, turned))),
    caption(road.line, picture, turned, room),
    beside(road.id, at, moves),
    trueRow(road.id, `lies-${lies}`, look, style, mmPx, turned, at));
}

/** What stands beside a place: marks of what is wrong there, the button that chooses it, and what moves it. */
function beside(place, at, moves) {
  const found = [at.marks(place), at.choice(place), moves].flat().filter(Boolean);
  return found.length > 0 && h("div", { class: "beside", key: "beside" }, found);
}

/** What is true of a stretch, right under what is believed. */
function trueRow(stretch, lies, look, style, mmPx, turned, { truth }) {
  return truth && [
    h("div", { class: `strip-place true-place ${lies}`, "aria-hidden": "true", key: "true" }, truth.strip(stretch, look, style, mmPx, turned)),
    truth.words(stretch),
  ];
}

function throatRow(throat, atLeft, turned, at) {
  const { picture, mmPx, truth } = at;
  const extra = beside(throat.id, at);
  const quiet = !throat.line.length && (throat.state === "clear" || throat.state === "unwatched") && !truth?.line(throat.id).length;
  if (quiet && !extra) return null;
  return h("div", { class: `road throat ${atLeft ? "at-left" : "at-right"}`, key: throat.id, "data-place": throat.id },
    h("p", { class: "road-name" }, h("b", {}, texts.line.throat(texts.line.ends[throat.end])), stateMark(throat.state), whyMark(throat.state, picture.names.unknown(throat.id))),
    throat.line.length > 0 && h("div", { class: `strip-place lies-${atLeft ? "left" : "right"}`, "aria-hidden": "true" },
      h("div", { class: `strip is-${throat.state} is-endless` }, blocks(throat.line, picture, mmPx, turned))),
    caption(throat.line, picture, turned),
    extra,
    trueRow(throat.id, `lies-${atLeft ? "left" : "right"}`, "is-endless", {}, mmPx, turned, at));
}

function sectionCell(section, cell, depth, at) {
  const { picture, truth } = at;
  const [left, right] = cell.turned ? [section.to, section.from] : [section.from, section.to];
  const name = picture.names.place(section.id);
  const room = (cell.column === null ? at.inner : at.sectionPx) - 60;
  const length = (line) => line.reduce((sum, id) => sum + (picture.vehicles[id]?.length_mm ?? 100), 0);
  const total = Math.max(length(section.line), length(truth?.line(section.id) ?? []));
  const scale = total * at.mmPx > room ? room / total : at.mmPx;
  return h("section", {
    class: cell.column === null ? "between is-wide" : "between", key: section.id, "data-place": section.id,
    style: { "grid-column": cell.column === null ? "1 / -1" : String(cell.column + 1) }, "aria-label": name,
  },
  h("h4", {}, cell.column === null ? name : stateMark(section.state)),
  h("p", { class: "road-name" }, cell.column === null && stateMark(section.state), h("span", { class: "quiet rule" }, texts.line.rules[section.rule] ?? section.rule), whyMark(section.state, picture.names.unknown(section.id))),
  h("div", { class: "strip-place", "aria-hidden": "true" },
    h("div", {
      class: `strip is-${section.state} stands-middle`, "data-section": section.id, "data-left": left, "data-right": right,
      "data-depth": String(depth),
    }, blocks(section.line, picture, scale, cell.turned))),
  caption(section.line, picture, cell.turned),
  trueRow(section.id, "", "stands-middle", {}, scale, cell.turned, at),
  !section.line.length && section.trains.length > 0 && h("p", { class: "caption" }, section.trains.map((t) => h("b", { class: "flag", key: t }, t))),
  section.directions.length === 1 && h("p", { class: "caption" }, texts.line.oneWay(texts.line.ends[section.directions[0]] ?? section.directions[0])),
  section.authority.map((a) => h("p", { class: "caption", key: `authority ${a.train}` }, texts.line.authority(a.train, picture.names.why(section.id, a.why)))),
  cell.branch && h("p", { class: "caption" }, texts.line.branch(picture.names.station(cell.branch))),
  beside(section.id, at));
}
