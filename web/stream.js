// Follows the live stream, and knows when it has stopped.
//
// Rule: a picture that may be old is called old. Five seconds without a sign of life are a frozen stream; it is sought again
// by waits that grow to a second and a half and no further, and at once when the page wakes or the network is back.

const FROZEN_MS = 5000;
const ATTEMPT_MS = 2000;
const WAITS_MS = [200, 500, 1000, 1500];

/** `on`: picture(data), fault(data), frozen(host time of the last sign of life or null), live(). */
export function follow(url, on) {
  let source = null;
  let tries = 0;
  let timer = 0;
  let lastSign = Date.now();
  let hostTime = null;
  let live = null;

  function connect() {
    clearTimeout(timer);
    source?.close();
    source = new EventSource(url);
    source.onerror = again;
    source.addEventListener("ping", (event) => sign(() => { hostTime = JSON.parse(event.data).time; }));
    source.addEventListener("snapshot", (event) => sign(() => on.picture(JSON.parse(event.data))));
    source.addEventListener("fault", (event) => sign(() => on.fault(JSON.parse(event.data))));
    timer = setTimeout(again, ATTEMPT_MS);
  }

  function again() {
    clearTimeout(timer);
    source.close();
    timer = setTimeout(connect, WAITS_MS[Math.min(tries, WAITS_MS.length - 1)]);
    tries += 1;
  }

  function sign(take) {
    clearTimeout(timer);
    tries = 0;
    lastSign = Date.now();
    take();
    if (live !== true) {
      live = true;
      on.live();
    }
  }

  function watch() {
    if (Math.abs(Date.now() - lastSign) < FROZEN_MS) return;
    if (live !== false) {
      live = false;
      on.frozen(hostTime);
      if (source.readyState === EventSource.OPEN) again();
    }
  }

  function wake() {
    if (document.visibilityState === "hidden") return;
    if (Math.abs(Date.now() - lastSign) > FROZEN_MS / 2) {
      tries = 0;
      connect();
    }
    watch();
  }

  setInterval(watch, 250);
  document.addEventListener("visibilitychange", wake);
  addEventListener("online", wake);
  connect();
}
