// One stretch as a strip, its vehicles on it as blocks to their own length, and the same in words below.
//
// Rule: what colour says, shape and words say too. A block's outline is as firm as the evidence for it.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { howSure } from "./picture.js";
import { vehicleName } from "./vehicle.js";

const LETTER_PX = 9;
const LABEL_MARGIN_PX = 11;

/** How firm a vehicle's outline is: "seen", "carried" or "guessed". */
export function firmness(vehicle) {
  if (howSure(vehicle.sure) === "look") return "guessed";
  return vehicle.by === "seen" || vehicle.by === "told" ? "seen" : "carried";
}

/** A sample of a state with its word. */
export function stateMark(state) {
  return h("span", { class: "state" }, h("span", { class: `sample is-${state}`, "aria-hidden": "true" }), texts.states[state] ?? state);
}

/** Why something is unknown, in the service's own words; nothing where it is not, or no reason is known. */
export function whyMark(state, why) {
  return state === "unknown" && why && h("span", { class: "quiet why" }, why);
}

/** The vehicles of a line, split where the train changes: [{ train, vehicles }]. */
export function groups(line, vehicles) {
  const found = [];
  for (const id of line) {
    const vehicle = vehicles[id] ?? { id, length_mm: 100, sure: 0, by: "assumed", train: null, fouls: [] };
    const last = found.at(-1);
    if (last && last.train === vehicle.train) last.vehicles.push(vehicle);
    else found.push({ train: vehicle.train, vehicles: [vehicle] });
  }
  return found;
}

/** The blocks of a line at `mmPx` pixels a millimetre, left to right; `turned` draws the last vehicle first. */
export function blocks(line, picture, mmPx, turned) {
  const parts = groups(line, picture.vehicles);
  const inOrder = (list) => (turned ? list.slice().reverse() : list);
  return inOrder(parts).map((part) =>
    h("span", { class: part.train ? "group is-train" : "group", key: part.vehicles[0].id },
      h("span", { class: "blocks" }, inOrder(part.vehicles).map((vehicle) => block(vehicle, picture, mmPx)))));
}

function block(vehicle, picture, mmPx) {
  const width = Math.max(vehicle.length_mm * mmPx, 5);
  const firm = firmness(vehicle);
  const name = picture.names.vehicle(vehicle.id);
  const label = (vehicle.differs ? "≠" : "") + (firm === "guessed" ? texts.line.guessed(name).join("") : name);
  const fits = label.length * LETTER_PX + LABEL_MARGIN_PX <= width;
  const shown = fits ? label : vehicle.differs ? "≠" : firm === "guessed" ? "?" : "";
  return h("span", { class: `block is-${firm} kind-${vehicle.kind ?? "wagon"}` + (vehicle.differs ? " differs" : "") + (vehicle.partly ? " is-partly" : "") + (vehicle.found ? " is-found" : ""), key: vehicle.id, style: { width: `${width.toFixed(1)}px` } }, shown);
}

/** The vehicles of a line in words, in the order they are drawn, trains named; `room` stands at its end. Nobody is asked to look
 * for what goes with a train: its crew stands beside it, and where it reaches is in doubt only in passing. */
export function caption(line, picture, turned, room) {
  const parts = groups(line, picture.vehicles);
  if (!parts.length) return null;
  const inOrder = (list) => (turned ? list.slice().reverse() : list);
  const look = line.some((id) => !picture.vehicles[id]?.train && howSure(picture.vehicles[id]?.sure ?? 0) === "look");
  const fouling = line.map((id) => picture.vehicles[id]).filter((v) => v?.fouls?.length);
  return h("p", { class: "caption" },
    inOrder(parts).map((part) => captionGroup(part, inOrder(part.vehicles), picture)),
    look && h("span", { class: "look" }, texts.line.look),
    fouling.map((v) => h("span", { class: "look", key: `fouls ${v.id}` },
      texts.line.fouls(vehicleName(v.id, picture), v.fouls.map(picture.names.place).join(", ")))),
    room);
}

/** One rake, or what stands loose: what is probable of all its vehicles is said once. */
function captionGroup(part, vehicles, picture) {
  const all = vehicles.length > 1 && vehicles.every((v) => howSure(v.sure) === "probably");
  return h("span", { class: "caption-group", key: part.vehicles[0].id },
    part.train && h("b", { class: "flag" }, part.train),
    all && h("span", {}, texts.line.allProbably),
    vehicles.map((v) => h("span", { class: v.found ? "caption-vehicle is-found-name" : "caption-vehicle", key: v.id }, all ? vehicleName(v.id, picture) : nameWithSure(v, picture))));
}

function nameWithSure(vehicle, picture) {
  const name = vehicleName(vehicle.id, picture);
  const how = howSure(vehicle.sure);
  if (how === "plain") return name;
  return how === "probably" ? texts.line.probably(name) : texts.line.guessed(name);
}
