// One vehicle: where it is, how sure and why, its tags; put right by eye, taken off, put on, found, given a tag.
//
// Rule: each of these is one word told, and the answer offers to take it back.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { count } from "./locale.js";
import { howSure } from "./picture.js";
import { to } from "./route.js";
import { toldList } from "./told.js";
import { lately, readWhere } from "./tags.js";
import { moveList } from "./trains.js";

const OFF = "off";

/** Makes the card. `say(words)` tells. */
export function vehicleCard({ say }) {
  let begun = {};

  /** The place offered: as chosen on the Line, else where the vehicle is, until somebody chooses from the list. */
  function offered(vehicle, route) {
    const key = `${vehicle.id} ${route.id}`;
    if (begun.key !== key) begun = { key, isTouched: false };
    if (!begun.isTouched) begun.place = route.id || vehicle.place;
    return begun;
  }

  function correct(vehicle, picture, route) {
    const words = texts.stock;
    const { key, place } = offered(vehicle, route);
    const option = (id, name) => h("option", { value: id, key: id, selected: id === place }, name);
    const isOff = vehicle.place === OFF;
    const group = (name, places) => h("optgroup", { label: name, key: name }, places);
    return h("form", {
      class: "correct", key,
      onsubmit: (event) => {
        event.preventDefault();
        const { place: where, order } = event.target.elements;
        say(["stands", vehicle.id, where.value, order.value].filter(Boolean).join(" "));
      },
    },
    h("label", { for: "place" }, words.place),
    h("select", { id: "place", name: "place", required: true, onchange: () => { begun.isTouched = true; } },
      isOff && h("option", { value: "", key: "none", selected: place === OFF }, words.choosePlace),
      picture.stations.map((station) => group(station.name || station.id, [
        ...station.roads.map((road) => option(road.id, picture.names.place(road.id))),
        ...station.throats.map((throat) => option(throat.id, picture.names.place(throat.id)))])),
      group(words.sections, picture.sections.map((section) => option(section.id, picture.names.place(section.id)))),
      !isOff && group(words.nowhere, [option(OFF, picture.names.place(OFF))])),
    h("label", { for: "order" }, words.order),
    h("input", { id: "order", name: "order", type: "number", min: "1", max: "99", inputmode: "numeric" }),
    h("div", { class: "actions" },
      h("button", { class: "button is-first" }, isOff ? words.putOn : words.stands),
      h("a", { class: "button", href: to("line", "place", vehicle.id) }, words.chooseOnLine)));
  }

  function tags(vehicle, picture) {
    const words = texts.tags;
    return h("div", { class: "its-tags", key: "tags" }, h("h3", {}, words.its),
      vehicle.tags?.length ? h("p", {}, vehicle.tags.map((tag) => h("code", { key: tag }, tag))) : h("p", { class: "quiet" }, words.none),
      lately(picture).map((strange) => h("button", {
        class: "button", type: "button", key: strange.tag, "data-learn": strange.tag, onclick: () => say(`tag ${strange.tag} ${vehicle.id}`),
      }, words.thisIsIt(strange.tag, readWhere(strange, picture)))));
  }

  /** Who has said what of this vehicle: another device may have put it right at the same time. */
  function told(vehicle, picture) {
    const rows = picture.told.filter((row) => row.about.includes(vehicle.id));
    return rows.length > 0 && h("div", { key: "told", "data-told-of": vehicle.id }, h("h3", {}, texts.told.ofThis), toldList(rows, picture, say));
  }

  return (vehicle, picture, route) => {
    const words = texts.stock;
    const name = picture.names.vehicle(vehicle.id);
    const moves = picture.moves.filter((move) => move.vehicle === vehicle.id);
    return h("div", { class: "vehicle-card", "data-one": vehicle.id },
      h("p", { class: "big" }, name === vehicle.id ? name : texts.vehicle(name, vehicle.id)),
      h("p", { class: "quiet" }, [words.kinds[vehicle.kind] ?? vehicle.kind, vehicle.class, words.length(count(vehicle.length_mm))].filter(Boolean).join(", ")),
      h("p", { class: "where" }, h("b", {}, picture.names.place(vehicle.place)), vehicle.order !== null && vehicle.place !== OFF && h("span", {}, words.number(vehicle.order)), vehicle.train && h("b", { class: "flag" }, vehicle.train)),
      h("p", { "data-why": vehicle.by }, h("span", { class: howSure(vehicle.sure) === "look" ? "look" : "" }, words.sureLong[howSure(vehicle.sure)]), " ", words.by[vehicle.by] ?? vehicle.by),
      h("div", { class: "actions" },
        vehicle.place !== OFF && h("a", { class: "button", href: to("line", "find", vehicle.id) }, words.show),
        vehicle.place !== OFF && h("button", { class: "button", type: "button", onclick: () => say(`stands ${vehicle.id} ${OFF}`) }, words.takeOff)),
      h("h3", {}, vehicle.place === OFF ? words.putOnName : words.correct),
      correct(vehicle, picture, route),
      told(vehicle, picture),
      tags(vehicle, picture),
      moves.length > 0 && [h("h3", { key: "moves-name" }, words.moves), moveList(moves, picture)]);
  };
}
