// Draws branches up into the room below the line, where nothing stands under their part of it.
//
// Rule: measured where the cells really lie; nothing comes nearer to what stands above it than a gap.

const GAP_PX = 14;
const EDGE_PX = 30;

/** Move each branch's row up as far as the cells above it let it; `plan` holds the rows. */
export function closeUp(plan) {
  const above = [];
  for (const row of plan.querySelectorAll(".line-row")) {
    if (Number(row.dataset.depth) > 0 && above.length) lift(row, above);
    above.push(...[...row.children].map((cell) => cell.getBoundingClientRect()));
  }
}

function lift(row, above) {
  const free = [...row.children].map((cell) => {
    const box = cell.getBoundingClientRect();
    const over = above.filter((other) => other.left < box.right - EDGE_PX && other.right > box.left + EDGE_PX);
    return box.top - Math.max(...over.map((other) => other.bottom), Math.min(...above.map((other) => other.bottom)));
  });
  const margin = parseFloat(row.style.marginTop) || 0;
  row.style.marginTop = `${Math.min(0, Math.round(margin - Math.min(...free) + GAP_PX))}px`;
}
