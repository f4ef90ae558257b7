// Draws the rails between the strips: fans in the throats, the line from station to section, branches branching off.
//
// Rule: it joins what the graph joins, measured where the strips really lie, so that wrapping rows and turned stations
// need no case of their own.

import { h, draw } from "./draw.js";

const LANE_PX = 15;
const LANE_STEP_PX = 7;
const NECK_PX = 14;
const CORNER_PX = 9;
const ABOVE_PX = 7; // between a row and what stands above it (closing-up.js leaves twice that)

/** Draw the rails into `svg` for the stations and sections found inside `plan`. */
export function drawRails(plan, svg) {
  const box = plan.getBoundingClientRect();
  svg.setAttribute("viewBox", `0 0 ${box.width} ${box.height}`);
  const parts = [];
  const throats = new Map();
  for (const station of plan.querySelectorAll("[data-station]")) addStation(station, box, throats, parts);
  for (const section of plan.querySelectorAll("[data-section]")) addSection(section, box, throats, parts);
  for (const throat of throats.values()) addThroat(throat, parts);
  draw(svg, parts);
}

function addStation(station, box, throats, parts) {
  const around = station.getBoundingClientRect();
  const roads = [...station.querySelectorAll("[data-open]")].map((strip) => ({
    open: strip.dataset.open.split(" "), running: strip.dataset.kind === "running", rect: strip.getBoundingClientRect(),
  }));
  for (const end of ["up", "down"]) {
    const here = roads.filter((road) => road.open.includes(end));
    if (!here.length) continue;
    const left = station.dataset.left === end;
    const through = here.find((road) => road.running) ?? here[0];
    const x = (left ? around.left : around.right) - box.left;
    const node = { x, y: middle(through.rect) - box.top, facing: left ? -1 : 1, joined: 0, state: station.dataset[end] };
    throats.set(`${station.dataset.station}.${end}`, node);
    for (const road of here) {
      const to = { x: (left ? road.rect.left : road.rect.right) - box.left, y: middle(road.rect) - box.top };
      parts.push(h("path", { class: "rail", d: fan(node, to) }));
    }
  }
}

function fan(node, to) {
  const reach = 22 * -node.facing;
  if (Math.abs(node.y - to.y) < 1) return `M${node.x} ${node.y}L${to.x} ${to.y}`;
  return `M${node.x} ${node.y}C${node.x + reach * 0.7} ${node.y} ${node.x + reach * 0.3} ${to.y} ${node.x + reach} ${to.y}L${to.x} ${to.y}`;
}

function addSection(section, box, throats, parts) {
  const rect = section.getBoundingClientRect();
  const y = middle(rect) - box.top;
  const above = section.closest(".line-row").getBoundingClientRect().top - box.top - ABOVE_PX;
  const lane = Math.max(LANE_PX - LANE_STEP_PX * Number(section.dataset.depth), 4);
  const ends = [
    [section.dataset.left, { x: rect.left - box.left, y, facing: -1 }],
    [section.dataset.right, { x: rect.right - box.left, y, facing: 1 }],
  ];
  for (const [name, end] of ends) {
    const node = throats.get(name);
    if (!node) continue;
    node.joined += 1;
    parts.push(h("path", { class: "rail", d: join(node, end, lane, above) }));
  }
}

function join(a, b, lane, above) {
  if (a.facing === b.facing) {
    const x = (a.facing > 0 ? Math.max(a.x, b.x) : Math.min(a.x, b.x)) + a.facing * lane;
    const fall = b.y > a.y ? 1 : -1;
    const back = -a.facing * CORNER_PX;
    return `M${a.x} ${a.y}L${x + back} ${a.y}Q${x} ${a.y} ${x} ${a.y + fall * CORNER_PX}`
      + `L${x} ${b.y - fall * CORNER_PX}Q${x} ${b.y} ${x + back} ${b.y}L${b.x} ${b.y}`;
  }
  const isBack = (b.x - a.x) * a.facing < -CORNER_PX;
  if (isBack && above > a.y + 2 * CORNER_PX && b.y > above + 2 * CORNER_PX) {
    return bent([[a.x, a.y], [a.x + a.facing * lane, a.y], [a.x + a.facing * lane, above], [b.x + b.facing * lane, above], [b.x + b.facing * lane, b.y], [b.x, b.y]]);
  }
  const reach = Math.max(Math.abs(b.x - a.x) * 0.6, 20);
  return `M${a.x} ${a.y}C${a.x + a.facing * reach} ${a.y} ${b.x + b.facing * reach} ${b.y} ${b.x} ${b.y}`;
}

/** A path through points, its corners rounded off. */
function bent(points) {
  const towards = ([x, y], [u, v]) => {
    const far = Math.hypot(u - x, v - y) || 1;
    const part = Math.min(CORNER_PX, far / 2) / far;
    return `${x + (u - x) * part} ${y + (v - y) * part}`;
  };
  const corners = points.slice(1, -1).map((corner, i) => `L${towards(corner, points[i])}Q${corner[0]} ${corner[1]} ${towards(corner, points[i + 2])}`);
  return `M${points[0].join(" ")}${corners.join("")}L${points.at(-1).join(" ")}`;
}

function addThroat(node, parts) {
  if (!node.joined) {
    const x = node.x + node.facing * NECK_PX;
    parts.push(h("path", { class: "rail", d: `M${node.x} ${node.y}L${x} ${node.y}` }));
    parts.push(h("path", { class: "rail buffer", d: `M${x} ${node.y - 8}L${x} ${node.y + 8}` }));
  }
  parts.push(h("circle", { class: `throat-node is-${node.state}`, cx: node.x, cy: node.y, r: 5 }));
}

function middle(rect) {
  return rect.top + rect.height / 2;
}
