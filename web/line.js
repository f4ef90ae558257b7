// The line, drawn from the plant by itself: stations along it, their roads to scale, the sections between them.
//
// Rule: every length of road and vehicle has the same scale, the largest at which the longest road fits.

import { h } from "./draw.js";
import { layOut, longestRun } from "./layout.js";
import { blocks, caption, stateMark, whyMark } from "./strip.js";
import { texts } from "./texts.js";

const GUTTER_PX = 22;
const FAN_PX = 26;
const SECTION_PX = 176;
const STATION_PX = 300;
const INSET_PX = 14;

/** What the line measures in a place `width` pixels wide: how many stations abreast, and pixels a millimetre. */
export function measure(picture, width) {
  const inner = Math.max(width - 2 * GUTTER_PX, 200);
  const most = Math.max(1, Math.floor((inner + SECTION_PX) / (STATION_PX + SECTION_PX)));
  const count = longestRun(picture.stations, picture.sections);
  const perRow = Math.ceil(count / Math.ceil(count / Math.min(most, count)));
  const rows = layOut(picture.stations, picture.sections, perRow);
  const depth = Math.max(0, ...rows.map((row) => row.depth));
  const station = (inner - 2 * INSET_PX * depth - (perRow - 1) * SECTION_PX) / perRow;
  const longest = Math.max(1, ...picture.stations.flatMap((s) => s.roads).map((road) => Math.max(road.length_mm, road.stands_mm)));
  return { perRow, rows, mmPx: (station - 2 * FAN_PX - 4) / longest, inner };
}

/** The rows of the line; `truth` (truth.js), where it is shown, gives each stretch a second strip. */
export function lineRows(given, { perRow, rows, mmPx, inner }, truth) {
  const picture = truth ? truth.picture : given;
  if (!picture.stations.length) return h("p", { class: "quiet" }, texts.line.empty);
  const stations = new Map(picture.stations.map((s) => [s.id, s]));
  const sections = new Map(picture.sections.map((s) => [s.id, s]));
  const columns = Array.from({ length: 2 * perRow - 1 }, (_, i) => (i % 2 ? `${SECTION_PX}px` : "minmax(0, 1fr)")).join(" ");
  return rows.map((row) => h("div", {
    class: "line-row", key: row.cells.map((cell) => cell.id).join(" "),
    style: { "grid-template-columns": columns, margin: `0 ${GUTTER_PX + row.depth * INSET_PX}px` },
  }, row.cells.map((cell) => (cell.kind === "station"
    ? stationCell(stations.get(cell.id), cell, picture, mmPx, truth)
    : sectionCell(sections.get(cell.id), cell, row.depth, picture, mmPx, inner, truth)))));
}

function stationCell(station, cell, picture, mmPx, truth) {
  const [left, right] = cell.turned ? ["down", "up"] : ["up", "down"];
  const throat = Object.fromEntries(station.throats.map((t) => [t.end, t]));
  return h("section", {
    class: "station", key: station.id, "data-station": station.id, "data-left": left,
    "data-up": throat.up?.state ?? "unwatched", "data-down": throat.down?.state ?? "unwatched",
    style: { "grid-column": String(cell.column + 1) }, "aria-label": station.name || station.id,
  },
  h("h3", {}, station.name || station.id),
  station.roads.map((road) => roadRow(road, left, right, picture, mmPx, cell.turned, truth)),
  [throat[left], throat[right]].filter(Boolean).map((t) => throatRow(t, t.end === left, picture, mmPx, cell.turned, truth)));
}

function roadRow(road, left, right, picture, mmPx, turned, truth) {
  const open = { left: road.open.includes(left), right: road.open.includes(right) };
  const lies = open.left === open.right ? "middle" : open.left ? "left" : "right";
  const over = road.stands_mm - road.length_mm;
  const room = h("span", { class: over > 0 ? "room is-over" : "room", key: "room" },
    over > 0 ? texts.line.over(over) : texts.line.stands(road.stands_mm, road.length_mm));
  const look = `stands-${lies}` + (open.left ? "" : " stop-left") + (open.right ? "" : " stop-right");
  const style = { width: `${(road.length_mm * mmPx).toFixed(1)}px` };
  return h("div", { class: "road", key: road.id },
    h("p", { class: "road-name" }, h("b", {}, road.name), stateMark(road.state), whyMark(road.state, picture.names.unknown(road.id))),
    h("div", { class: `strip-place lies-${lies}`, "aria-hidden": "true" },
      h("div", {
        class: `strip is-${road.state} ${look}`, style, "data-open": road.open.join(" "), "data-kind": road.kind,
      }, blocks(road.line, picture, mmPx, turned))),
    caption(road.line, picture, turned, room),
    trueRow(road.id, `lies-${lies}`, look, style, mmPx, turned, truth));
}

/** What is true of a stretch, right under what is believed. */
function trueRow(stretch, lies, look, style, mmPx, turned, truth) {
  return truth && [
    h("div", { class: `strip-place true-place ${lies}`, "aria-hidden": "true", key: "true" }, truth.strip(stretch, look, style, mmPx, turned)),
    truth.words(stretch),
  ];
}

function throatRow(throat, atLeft, picture, mmPx, turned, truth) {
  const quiet = !throat.line.length && (throat.state === "clear" || throat.state === "unwatched") && !truth?.line(throat.id).length;
  if (quiet) return null;
  return h("div", { class: `road throat ${atLeft ? "at-left" : "at-right"}`, key: throat.id },
    h("p", { class: "road-name" }, h("b", {}, texts.line.throat(texts.line.ends[throat.end])), stateMark(throat.state), whyMark(throat.state, picture.names.unknown(throat.id))),
    throat.line.length > 0 && h("div", { class: `strip-place lies-${atLeft ? "left" : "right"}`, "aria-hidden": "true" },
      h("div", { class: `strip is-${throat.state} is-endless` }, blocks(throat.line, picture, mmPx, turned))),
    caption(throat.line, picture, turned),
    trueRow(throat.id, `lies-${atLeft ? "left" : "right"}`, "is-endless", {}, mmPx, turned, truth));
}

function sectionCell(section, cell, depth, picture, mmPx, inner, truth) {
  const [left, right] = cell.turned ? [section.to, section.from] : [section.from, section.to];
  const name = picture.names.place(section.id);
  const room = (cell.column === null ? inner : SECTION_PX) - 60;
  const length = (line) => line.reduce((sum, id) => sum + (picture.vehicles[id]?.length_mm ?? 100), 0);
  const total = Math.max(length(section.line), length(truth?.line(section.id) ?? []));
  const scale = total * mmPx > room ? room / total : mmPx;
  return h("section", {
    class: cell.column === null ? "between is-wide" : "between", key: section.id,
    style: { "grid-column": cell.column === null ? "1 / -1" : String(cell.column + 1) }, "aria-label": name,
  },
  h("h4", {}, cell.column === null ? name : stateMark(section.state)),
  h("p", { class: "road-name" }, cell.column === null && stateMark(section.state), h("span", { class: "quiet" }, texts.line.rules[section.rule] ?? section.rule), whyMark(section.state, picture.names.unknown(section.id))),
  h("div", { class: "strip-place", "aria-hidden": "true" },
    h("div", {
      class: `strip is-${section.state} stands-middle`, "data-section": section.id, "data-left": left, "data-right": right,
      "data-depth": String(depth),
    }, blocks(section.line, picture, scale, cell.turned))),
  caption(section.line, picture, cell.turned),
  trueRow(section.id, "", "stands-middle", {}, scale, cell.turned, truth),
  !section.line.length && section.trains.length > 0 && h("p", { class: "caption" }, section.trains.map((t) => h("b", { class: "flag", key: t }, t))),
  section.directions.length === 1 && h("p", { class: "caption" }, texts.line.oneWay(texts.line.ends[section.directions[0]] ?? section.directions[0])),
  section.authority.map((a) => h("p", { class: "caption", key: `authority ${a.train}` }, texts.line.authority(a.train, picture.names.why(section.id, a.why)))),
  cell.branch && h("p", { class: "caption" }, texts.line.branch(picture.names.station(cell.branch))));
}

/** How to read the line. */
export function legend() {
  const words = texts.line.legendItems;
  const strip = (state) => h("span", { class: `sample is-${state}` });
  const block = (look) => h("span", { class: `block legend-block ${look}` }, look === "is-guessed" ? "?" : "");
  const items = [
    ...["clear", "occupied", "unknown", "unwatched"].map((state) => [strip(state), words[state]]),
    ...["seen", "carried", "guessed"].map((firm) => [block(`is-${firm}`), words[firm]]),
    [block("is-seen kind-engine"), words.engine], [h("span", { class: "legend-stop" }), words.stop], [null, words.order],
  ];
  return h("details", { class: "fold" }, h("summary", {}, texts.line.legend),
    h("ul", { class: "legend" }, items.map(([mark, text]) => h("li", { key: text }, h("span", { class: "legend-mark" }, mark), text))));
}
