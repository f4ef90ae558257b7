// The page "Stock": every vehicle, where it is held to be and why, and the way to put that right.
//
// Rule: found by whatever can be read off a vehicle; one look, told, counts more than what was inferred.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { part } from "./part.js";
import { go, to } from "./route.js";
import { howSure } from "./picture.js";
import { notRunning } from "./page-line.js";
import { rakePart } from "./rake.js";
import { strangeTags } from "./tags.js";
import { toldList } from "./told.js";
import { vehicleCard } from "./vehicle-card.js";
import { vehicleName } from "./vehicle.js";

const RAKE = "a rake"; // with a space in it, as no id of a vehicle has

/** Makes the page. `say(words)` tells, `redraw()` draws the page anew. */
export function stockPage({ say, redraw }) {
  let sought = "";
  let tag = null;
  const card = vehicleCard({ say });
  const rake = rakePart({ say, redraw });

  function seek(text) {
    sought = text.trim().toLowerCase();
    redraw();
  }

  function give(given) {
    tag = given;
    redraw();
  }

  function found(picture) {
    const fits = (v) => [v.id, v.painted, v.class, v.kind, picture.names.place(v.place), ...(v.tags ?? [])].some((text) => text?.toLowerCase().includes(sought));
    return Object.values(picture.vehicles).filter(fits).sort((a, b) => doubt(b) - doubt(a) || names(a).localeCompare(names(b), undefined, { numeric: true }));
  }

  function search() {
    return h("div", { class: "search", key: "search" },
      h("label", { for: "seek" }, texts.stock.seek),
      h("input", { id: "seek", type: "search", autocomplete: "off", autocapitalize: "none", spellcheck: "false", oninput: (event) => seek(event.target.value) }),
      h("a", { class: "button", href: to("stock", RAKE) }, texts.rake.open));
  }

  function list(picture, route) {
    const vehicles = found(picture);
    if (!Object.keys(picture.vehicles).length) return h("p", { class: "quiet" }, texts.stock.empty);
    return [
      tag && h("div", { class: "asked", key: "asked" }, h("p", {}, texts.tags.whose(tag)), h("button", { class: "button", type: "button", onclick: () => give(null) }, texts.tags.cancel)),
      search(),
      h("p", { class: "unseen", role: "status", key: "count" }, texts.stock.count(vehicles.length)),
      !vehicles.length && h("p", { class: "quiet", key: "none" }, texts.stock.none),
      h("ul", { class: "stock-list", key: "list" }, vehicles.map((vehicle) => h("li", { key: vehicle.id }, row(vehicle, picture, route)))),
    ];
  }

  function row(vehicle, picture, route) {
    const inside = [
      h("b", { class: "stock-name" }, vehicleName(vehicle.id, picture)),
      h("span", { class: "stock-place" }, picture.names.place(vehicle.place), vehicle.train && [", ", h("b", { class: "flag" }, vehicle.train)]),
      h("span", { class: `stock-sure is-${howSure(vehicle.sure)}` }, texts.stock.sure[howSure(vehicle.sure)]),
    ];
    const attrs = { class: "stock-row", "data-vehicle": vehicle.id };
    if (tag) return h("button", { ...attrs, type: "button", onclick: () => { say(`tag ${tag} ${vehicle.id}`); give(null); } }, inside);
    return h("a", { ...attrs, href: to("stock", vehicle.id), "aria-current": route.what === vehicle.id ? "true" : null }, inside);
  }

  /** What stands beside the list, and on a phone instead of it: one vehicle, or a rake to learn. */
  function one(picture, route) {
    const back = h("p", { key: "back" }, h("a", { class: "button", href: to("stock") }, texts.stock.all));
    if (route.what === RAKE) return h("div", { class: "stock-one", key: "one rake" }, part("learning", () => [back, rake.draw(picture)]));
    const vehicle = picture.vehicles[route.what];
    return vehicle && h("div", { class: "stock-one", key: `one ${vehicle.id}` }, part("vehicle", () => [back, card(vehicle, picture, route)]));
  }

  function draw(picture, route) {
    if (route.what !== RAKE) rake.left();
    const open = one(picture, route);
    return [
      picture.session.state !== "running" && notRunning(picture),
      h("div", { class: open ? "stock has-one" : "stock", key: "stock" },
        h("div", { class: "stock-all", key: "all" }, part("vehicles", () => list(picture, route))),
        open,
        h("div", { class: "stock-tags", key: "tags" }, part("tags", () => strangeTags(picture, give))),
        h("div", { class: "stock-told", key: "told" }, part("told", () => toldList(picture.told, picture, say) ?? h("p", { class: "quiet" }, texts.told.none)))),
    ];
  }

  return { draw, arrived: (route) => route.what === "wrong" ? false : leave(route) };

  function leave(route) {
    if (route.what && tag) go("stock");
    return false;
  }
}

function doubt(vehicle) {
  return howSure(vehicle.sure) === "look" ? 1 : 0;
}

function names(vehicle) {
  return vehicle.painted || vehicle.id;
}
