// The page "Line": the railway as it stands, what is wrong at its place, and what may go.
//
// Rule: the same drawing at every width, measured anew when its place has become wider or narrower.

import { h } from "./draw.js";
import { texts } from "./texts.js";
import { part } from "./part.js";
import { go, to } from "./route.js";
import { lineRows, measure } from "./line.js";
import { legend } from "./legend.js";
import { closeUp } from "./closing-up.js";
import { fit, shrunk } from "./fit.js";
import { arranging } from "./arrange.js";
import { moveAside } from "./moved.js";
import { drawRails } from "./rails.js";
import { levelMark } from "./irregularities.js";
import { goingPart } from "./going.js";
import { truthBeside } from "./truth.js";
import { vehicleName } from "./vehicle.js";

const ROOT_PX = 16;

/** Makes the page; `say(words)` tells, `place` is the element that it is drawn in. */
export function linePage({ say, redraw, place }) {
  const arrange = arranging({ say, redraw });
  let shownLast = null;
  const truth = truthBeside({ redraw });
  let watched = null;

  /** Marks of what is open at a place, each leading to its card. */
  function marksOf(picture) {
    const open = picture.irregularities.filter((item) => item.status === "open" && !item.cause);
    return (where) => open.filter((item) => item.places.some((one) => one.split("@")[0] === where)).map((item) =>
      h("a", { class: `mark is-${item.level}`, href: to("line", "wrong", item.id), key: `mark ${item.id}`, title: item.text, "data-mark": item.id },
        h("span", { class: "mark-word" }, levelMark(item.level), h("span", {}, texts.kinds[item.kind] ?? item.kind))));
  }

  /** The buttons by which a place is chosen for a vehicle. */
  function choiceOf(picture, route) {
    if (route.what !== "place") return () => null;
    return (where) => h("button", {
      class: "button", type: "button", key: "choose", "data-choose-place": where, "aria-label": texts.line.hereAt(picture.names.place(where)),
      onclick: () => go("stock", route.id, where),
    }, texts.line.here);
  }

  function line(given, route) {
    if (!given.stations.length) return h("p", { class: "quiet" }, texts.line.empty);
    const plan = place.querySelector(".plan");
    const width = plan?.clientWidth ?? 0;
    const picture = arrange.ahead(route.what === "find" ? found(given, route.id) : given);
    const shown = {
      truth: truth.of(picture), marks: marksOf(picture), choice: choiceOf(picture, route),
      arrange: route.what === "arrange" ? arrange.of(picture) : null,
    };
    shownLast = picture;
    return [
      truth.box(picture),
      h("div", { class: "plan", key: "plan" },
        h("div", { class: "rows" }, width ? lineRows(picture, measure(picture, width, rem(), shrunk(plan)), shown) : null),
        h("svg", { class: "rails", "aria-hidden": "true", own: true })),
      legend(),
      route.what !== "arrange" && arrange.way(),
    ];
  }

  function asked(picture, route) {
    if (!["find", "place"].includes(route.what) || !picture.vehicles[route.id]) return null;
    const at = picture.names.place(picture.vehicles[route.id].place);
    const name = vehicleName(route.id, picture);
    return h("div", { class: "asked", key: "asked", "data-asked": route.what },
      h("p", {}, route.what === "find" ? texts.line.found(name, at) : texts.line.choose(name)),
      h("a", { class: "button", href: to("stock", route.id) }, texts.line.back));
  }

  /** Rails follow the strips, so they are drawn once those lie in their places. */
  function drawn(again) {
    const plan = place.querySelector(".plan");
    if (!plan) return;
    if (!plan.querySelector(".line-row")) again(); // the line needs to know how wide its place has become
    if (plan !== watched) {
      watched = plan;
      new ResizeObserver(redraw).observe(plan);
    }
    const settle = () => {
      const isHeld = moveAside(plan, shownLast, rem());
      closeUp(plan);
      return isHeld;
    };
    if (settle()) again();
    if (fit(plan)) {
      again();
      settle();
    }
    drawRails(plan, plan.querySelector("svg"));
  }

  return {
    draw: (picture, route) => [
      route.what === "arrange" ? arrange.asked() : asked(picture, route),
      picture.session.state !== "running" && notRunning(picture),
      h("div", { class: "running", key: "running" }, !["find", "place", "arrange"].includes(route.what) && part("trains", () => goingPart(picture)), part("drawing", () => line(picture, route))),
    ],
    drawn,
    arrives: truth.arrived,
    /** Whoever looks for a vehicle gets it in sight. */
    arrived(route) {
      const block = route.what === "find" ? place.querySelector(".is-found") : null;
      block?.scrollIntoView({ block: "center" });
      return block !== null;
    },
  };
}

/** What a page says while no session runs, with the way to where one is begun. */
export function notRunning(picture) {
  const words = texts.now;
  const ended = picture.session.state === "ended";
  return h("div", { class: "next", key: "not-running" },
    h("p", { "data-next": true }, !picture.railway ? texts.session.noRailway : ended ? words.ended : words.begin),
    picture.railway && h("a", { class: "button is-first", href: to("begin") }, ended ? words.toWrite : words.toBegin));
}

function rem() {
  return parseFloat(getComputedStyle(document.documentElement).fontSize) / ROOT_PX;
}

function found(picture, id) {
  const vehicle = picture.vehicles[id];
  return vehicle ? { ...picture, vehicles: { ...picture.vehicles, [id]: { ...vehicle, found: true } } } : picture;
}
