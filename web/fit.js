// Makes the whole line fit a wall screen, which nobody scrolls.
//
// Rule: smaller by steps and no smaller than can be read; it grows again only where there is room to spare, so that nothing
// jumps to and fro. Screens that somebody holds or sits at are left alone.

const WALL = matchMedia("(min-width: 1800px)");
const STEP = 0.05;
const LEAST = 0.7;

/** How large `plan` is drawn now. */
export function shrunk(plan) {
  return Number(plan?.style.zoom) || 1;
}

/** Set how large `plan` is drawn; true where that has changed. */
export function fit(plan) {
  const now = shrunk(plan);
  const wanted = WALL.matches ? fitting(plan, now) : 1;
  if (wanted >= now && wanted < now + 2 * STEP) return false;
  plan.style.zoom = String(wanted);
  plan.style.setProperty("--shrunk", String(wanted)); // what takes a thumb stays as large as it was
  return true;
}

function fitting(plan, now) {
  const box = plan.getBoundingClientRect();
  const room = innerHeight - box.top - scrollY;
  const steps = Math.floor((room * now) / box.height / STEP);
  return Math.min(1, Math.max(LEAST, Number((steps * STEP).toFixed(2))));
}
