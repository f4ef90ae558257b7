// Before the session: where everything is held to stand, so that somebody can walk along and look.
//
// Rule: what is uncertain stands first; the order is the one in which it stands, from the up end.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { howSure } from "./picture.js";
import { to } from "./route.js";
import { vehicleName, vehicleNames } from "./vehicle.js";

/** The vehicles that nobody is sure of. */
export function uncertain(picture) {
  return Object.values(picture.vehicles).filter((vehicle) => howSure(vehicle.sure) !== "plain");
}

/** The part "Where things stand". */
export function standingPart(picture) {
  const words = texts.standing;
  const doubtful = uncertain(picture);
  const taken = (station) => [...station.roads, ...station.throats].filter((place) => place.line.length);
  return [
    doubtful.length > 0 && h("ul", { class: "word-list", key: "doubtful" }, doubtful.map((vehicle) => h("li", { key: vehicle.id },
      h("div", {}, h("b", {}, vehicleName(vehicle.id, picture)), " ", h("span", {}, words.held(picture.names.place(vehicle.place)))),
      h("a", { class: "button", href: to("stock", vehicle.id) }, words.settle)))),
    h("p", { class: "quiet", key: "walk" }, doubtful.length ? words.walkUnsure(doubtful.length) : words.walk),
    picture.stations.filter((station) => taken(station).length).map((station) => h("details", { class: "fold", key: station.id },
      h("summary", {}, words.station(station.name || station.id, taken(station).reduce((sum, place) => sum + place.line.length, 0))),
      h("dl", { class: "standing" }, taken(station).map((place) => [
        h("dt", { key: `t ${place.id}` }, place.name ?? texts.line.throat(texts.line.ends[place.end])),
        h("dd", { key: `d ${place.id}` }, vehicleNames(place.line, picture))])))),
  ];
}
