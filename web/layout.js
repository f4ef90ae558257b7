// Where each station and section is drawn, from the graph that the sections make.
//
// Rule: the line runs on as a hand draws it: along a row, round the end, back below. Each station is entered at the end that
// its section joins, turned round if need be; a branch has a row of its own below its junction. Pure: no element, no measure.

const opposite = (end) => (end === "up" ? "down" : "up");
const stationOf = (throat) => throat.slice(0, throat.lastIndexOf("."));
const endOf = (throat) => throat.slice(throat.lastIndexOf(".") + 1);

/** Rows of cells for at most `perRow` stations abreast.
 *
 * A row: { depth, cells }. A cell: { kind: "station" | "section", id, column, turned, branch }. Stations stand in columns 0, 2,
 * 4, sections between them in 1, 3; a section with column null takes the row's whole width. `turned`: the down end (of a
 * section its `to` end) is at the left. `branch`: the junction's station id, at the first section of a branch.
 */
export function layOut(stations, sections, perRow) {
  const runs = runsOf(stations, sections);
  const rows = [];
  for (const run of runs.mains) place(run, { dir: 1, slot: 0, depth: 0 }, perRow, rows);
  for (const section of runs.left) rows.push({ depth: 0, cells: [{ kind: "section", id: section.id, column: null, turned: false }] });
  return rows;
}

/** The most stations that one run of the line passes: more abreast would leave room unused. */
export function longestRun(stations, sections) {
  const lengths = (branches) => branches.flatMap(({ steps }) => [steps.length + 1, ...steps.flatMap((s) => lengths(s.branches))]);
  const { mains } = runsOf(stations, sections);
  return Math.max(1, ...mains.flatMap(({ steps }) => [steps.length, ...steps.flatMap((s) => lengths(s.branches))]));
}

function runsOf(stations, sections) {
  const order = new Map(stations.map((s, i) => [s.id, i]));
  const usable = sections.filter((s) => order.has(stationOf(s.from)) && order.has(stationOf(s.to)));
  const drawn = new Set();
  const used = new Set();

  function next(throat) {
    const here = order.get(stationOf(throat));
    const rank = (far) => (far > here ? far - here : stations.length + here - far);
    let best = null;
    for (const section of usable) {
      if (used.has(section.id) || (section.from !== throat && section.to !== throat)) continue;
      const far = section.from === throat ? section.to : section.from;
      if (drawn.has(stationOf(far))) continue;
      const step = { section, near: throat, far, rank: rank(order.get(stationOf(far))) };
      if (best === null || step.rank < best.rank) best = step;
    }
    return best;
  }

  function follow(throat) {
    const steps = [];
    for (let step = next(throat); step !== null; step = next(throat)) {
      used.add(step.section.id);
      drawn.add(stationOf(step.far));
      steps.push({ ...step, station: stationOf(step.far), entry: endOf(step.far), branches: [] });
      throat = `${stationOf(step.far)}.${opposite(endOf(step.far))}`;
    }
    return steps;
  }

  function branchesOf(node) {
    for (const end of ["up", "down"]) {
      for (let steps = follow(`${node.station}.${end}`); steps.length; steps = follow(`${node.station}.${end}`)) {
        node.branches.push({ end, steps });
        steps.forEach(branchesOf);
      }
    }
  }

  const mains = [];
  for (const { id } of stations) {
    if (drawn.has(id)) continue;
    drawn.add(id);
    const exit = next(`${id}.down`) || !next(`${id}.up`) ? "down" : "up";
    const head = { station: id, entry: opposite(exit), section: null, branches: [] };
    const steps = [head, ...follow(`${id}.${exit}`)];
    steps.forEach(branchesOf);
    mains.push({ steps });
  }
  return { mains, left: usable.filter((s) => !used.has(s.id)) };
}

function place(run, { dir, slot, depth, junction }, perRow, rows) {
  let row = { depth, cells: [] };
  let nodes = [];
  const column = (position) => (dir > 0 ? 2 * position : 2 * (perRow - 1 - position));

  function emit() {
    if (!row.cells.length) return;
    rows.push(row);
    const [done, from] = [nodes, slot];
    row = { depth, cells: [] };
    nodes = [];
    done.forEach((node, i) => node.branches.forEach((branch) => {
      const side = branch.end === node.entry ? -dir : dir;
      const at = from - done.length + i;
      const start = (side === dir ? at : perRow - 1 - at) + 1;
      place(branch, { dir: side, slot: start, depth: depth + 1, junction: node.station }, perRow, rows);
    }));
  }

  run.steps.forEach((step, i) => {
    const branch = i === 0 ? junction : undefined;
    if (step.section) {
      const wide = slot >= perRow;
      if (wide) emit();
      const nearAtLeft = wide ? dir < 0 : dir > 0;
      const turned = (nearAtLeft ? step.near : step.far) !== step.section.from;
      const cell = { kind: "section", id: step.section.id, column: wide ? null : column(slot - 0.5), turned, branch };
      if (wide) {
        rows.push({ depth, cells: [cell] });
        slot = 0;
      } else {
        row.cells.push(cell);
      }
    }
    const leftEnd = dir > 0 ? step.entry : opposite(step.entry);
    row.cells.push({ kind: "station", id: step.station, column: column(slot), turned: leftEnd === "down" });
    nodes.push(step);
    slot += 1;
  });
  emit();
}
