// Stations drawn otherwise than by themselves: so many steps further right or down, their roads in another order.
//
// Rule: a step is the same on every device, half a letter's height. To the side a station takes along what stands in one row with
// it, as far as there is room and no further; downwards it pushes what stands below, so that nothing is ever covered.

import { shrunk } from "./fit.js";

/** One step, at a letter size of 16 pixels. */
export const STEP_PX = 8;
const EDGE_PX = 22;

let held = new Map();

/** How a station is drawn: { right, down, roads }. */
export function rowOf(picture, station) {
  return picture.drawn.find((row) => row.station === station) ?? { station, right: 0, down: 0, roads: [] };
}

/** The roads of a station from the top, as they are drawn. */
export function roadsOf(picture, station) {
  const { roads } = rowOf(picture, station.id);
  return roads.length ? roads.map((id) => station.roads.find((road) => road.id === id)).filter(Boolean) : station.roads;
}

/** How many steps to the right a station stands where it was to go further; null where it stands as told. */
export function heldAt(station) {
  return held.get(station) ?? null;
}

/** Move each row of `plan` to its side, as far as there is room; true where one is held otherwise than before. */
export function moveAside(plan, picture, rem) {
  const step = STEP_PX * rem * shrunk(plan);
  const around = plan.getBoundingClientRect();
  const now = new Map();
  for (const row of plan.querySelectorAll(".line-row")) {
    const stations = [...row.querySelectorAll("[data-station]")].map((cell) => rowOf(picture, cell.dataset.station));
    const right = stations.reduce((most, one) => (Math.abs(one.right) > Math.abs(most) ? one.right : most), 0);
    row.style.left = "0px";
    if (!right) continue;
    const cells = [...row.children].map((cell) => cell.getBoundingClientRect());
    const room = right > 0 ? around.right - Math.max(...cells.map((box) => box.right)) : Math.min(...cells.map((box) => box.left)) - around.left;
    const steps = Math.sign(right) * Math.min(Math.abs(right), Math.max(0, Math.floor((room - EDGE_PX) / step)));
    row.style.left = `${(steps * step) / shrunk(plan)}px`;
    for (const one of stations) if (one.right && one.right !== steps) now.set(one.station, steps);
  }
  const isNews = JSON.stringify([...now]) !== JSON.stringify([...held]);
  held = now;
  return isNews;
}
