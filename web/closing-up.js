// Draws branches up into the room below the line, where nothing stands under their part of it.
//
// Rule: measured where the cells really lie; nothing comes nearer to what stands above it than a gap.

const GAP_PX = 14;
const EDGE_PX = 30; // so much of a cell's side is empty, in the columns in which cells stand by themselves

/** Move each branch's row up as far as the cells above it let it; `plan` holds the rows. */
export function closeUp(plan) {
  const above = [];
  for (const row of plan.querySelectorAll(".line-row")) {
    if (Number(row.dataset.depth) > 0 && above.length) lift(row, above);
    above.push(...[...row.children].map((cell) => ({ box: cell.getBoundingClientRect(), isMoved: isMoved(row) })));
  }
}

function lift(row, above) {
  const free = [...row.children].map((cell) => {
    const box = cell.getBoundingClientRect();
    const over = above.filter((other) => {
      const edge = other.isMoved || isMoved(row) ? 0 : EDGE_PX;
      return other.box.left < box.right - edge && other.box.right > box.left + edge;
    });
    return box.top - Math.max(...over.map((other) => other.box.bottom), Math.min(...above.map((other) => other.box.bottom)));
  });
  const margin = parseFloat(row.style.marginTop) || 0;
  row.style.marginTop = `${Math.min(0, Math.round(margin - Math.min(...free) + GAP_PX))}px`;
}

function isMoved(row) {
  return (parseFloat(row.style.left) || 0) !== 0;
}
