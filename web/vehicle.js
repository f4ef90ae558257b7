// How a vehicle is named: the painted number that is read off its side, and the id that the words want.
//
// Rule: one way everywhere. Painted number first, id smaller in brackets; where nothing is painted, the id alone.

import { h } from "./draw.js";
import { texts } from "./texts.js";

/** The name of a vehicle with its id; `id` may be of anything else too, which then stands as it is. */
export function vehicleName(id, { names }) {
  const name = names.vehicle(id);
  if (name === id || !id) return name;
  return h("span", { class: "vehicle", key: id, title: texts.vehicle(name, id) }, name,
    h("span", { class: "vehicle-id" }, ` ${texts.vehicleId(id)}`));
}

/** Several names, a comma between them. */
export function vehicleNames(ids, picture) {
  return ids.flatMap((id, index) => (index ? [", ", vehicleName(id, picture)] : [vehicleName(id, picture)]));
}
