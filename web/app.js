// The page: takes each picture from the stream and has the open page draw it.
//
// Rule: no rule of the railway lives here. What every page shows (head, what is wrong, answers) is drawn around it.

import { call, h, draw, soon } from "./draw.js";
import { follow } from "./stream.js";
import { toGuide } from "./to-guide.js";
import { tell, whoIs } from "./tell.js";
import { texts } from "./texts.js";
import { read } from "./picture.js";
import { followRoute, here } from "./route.js";
import { banners, headBar, pageLinks, titleOf } from "./head.js";
import { wrongBar } from "./wrong.js";
import { cardId, irregularitiesPart } from "./irregularities.js";
import { answers } from "./answer.js";
import { alarm } from "./alarm.js";
import { clockFace } from "./clock.js";
import { part } from "./part.js";
import { beginPage } from "./page-begin.js";
import { linePage } from "./page-line.js";
import { workPage } from "./page-work.js";
import { stockPage } from "./page-stock.js";

const AGES_MS = 1000;

const place = document.getElementById("page");
const stream = { live: false, frozen: undefined, fault: null };
let picture = null;
let gone = null;
const redraw = soon(drawAll);
const face = clockFace();

async function say(words) {
  answer.show({ words, text: texts.answer.telling(words), accepted: null });
  const got = await tell(words, whoIs());
  answer.show(got);
  if (got.accepted) pages.begin.told();
  return got;
}

const answer = answers({ say, redraw, announce: (text) => call("answers", text) });
const calls = alarm({ announce: (text) => call("calls", text), redraw });
const irregularities = irregularitiesPart({ say, redraw });
const pages = {
  begin: beginPage({ say, answer, redraw, calls }),
  line: linePage({ say, redraw, place }),
  work: workPage({ say, redraw }),
  stock: stockPage({ say, redraw }),
};

/** The open page: as the address says, else where the session needs somebody first. */
function routeNow() {
  const route = here();
  if (!route.page) route.page = picture?.session.state === "running" ? "line" : "begin";
  return route;
}

function drawAll() {
  const route = routeNow();
  drawOnce(route);
  if (picture) pages[route.page].drawn?.(() => drawOnce(route));
  document.title = titleOf(picture, stream);
  calls.hear(picture);
  arrive(route);
}

function drawOnce(route) {
  const old = stream.frozen !== undefined || stream.fault || picture?.unkept?.goes_on === false ? "is-old" : "";
  draw(place, [
    h("div", { class: "top", key: "top" }, headBar(picture, stream, face(picture, stream.live), calls.button()), pageLinks(picture, route), banners(picture, stream),
      picture && wrongBar(picture, route, say, stream.live && !stream.fault && !picture.unkept && !picture.troubles.length)),
    picture
      ? h("main", { class: `pages-place on-${route.page} ${old}` + (route.what === "wrong" ? " with-wrong" : ""), key: "main", id: "main", tabindex: "-1", "aria-label": texts.pages[route.page] },
        route.what === "wrong" && h("div", { class: "wrong-place", key: "wrong" }, part("irregularities", () => irregularities(picture))),
        h("div", { class: "page", key: route.page }, pages[route.page].draw(picture, route)))
      : h("main", { class: "waiting", key: "waiting", "aria-label": texts.pages[route.page] }, h("p", {}, texts.stream.first)),
    answer.bar(picture),
  ]);
}

/** Once another address is drawn: its top is in sight, and the keyboard goes on from there. */
function arrive(route) {
  const address = JSON.stringify(route);
  if (address === gone || !picture) return;
  const first = gone === null;
  gone = address;
  if (pages[route.page].arrived?.(route)) return;
  const card = route.what === "wrong" && route.id ? document.getElementById(cardId(route)) : null;
  if (!first || card) (card ?? document.getElementById("main")).focus({ preventScroll: true });
  if (card) card.scrollIntoView();
  else if (!first) scrollTo(0, 0);
}

followRoute(redraw);
follow("api/stream", {
  picture(data) {
    try {
      picture = read(data, picture);
      pages.line.arrives(picture);
      stream.fault = null;
    } catch (error) {
      stream.fault = error.message;
    }
    redraw();
  },
  fault(data) {
    stream.fault = data.text;
    redraw();
  },
  frozen(time) {
    Object.assign(stream, { live: false, frozen: time });
    redraw();
  },
  live() {
    Object.assign(stream, { live: true, frozen: undefined });
    redraw();
  },
});
setInterval(() => {
  if (stream.frozen !== undefined) toGuide();
  redraw();
}, AGES_MS);
drawAll();
