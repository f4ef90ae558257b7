"""How well engines know where every vehicle stands, on railways with better and poorer detection, and how rightly they say
how sure they are.

    python3 tests/whereabouts_benchmark.py                     (in the project's environment: the layouts at 5 % missed)
    python3 tests/whereabouts_benchmark.py --kept --seeds 10   (the cells of tests/measuring/benchmark.md)
    python3 tests/whereabouts_benchmark.py --layouts limits --missed 0 0.05 0.2 --tracks all none --start exact wrong
    python3 tests/whereabouts_benchmark.py --grid              (every cell; a night on two cores)

Evenings are worked by the virtual railway's crews on railways of `tests/measuring/yards.py`; reads are missed as `--missed`
says, one in ten comes twice, one in a thousand is a ghost, and track detectors flicker. The engine in force, which weighs
hypotheses, runs in the whole core, and the former one beside it (`tests/measuring/former/`); the toggle tracker and the plan
alone are what both are held against. Nothing is asserted.

The seeds from 2001 on are for measuring alone. Whoever tunes an engine takes 601 to 699 (`--first-seed 601`), and never
looks at an evening of the others.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from itertools import product
from math import inf
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.measuring.benchmark import FIRST_SEED, Played, grid, jobs_of, kept, play_slow_again, run
from tests.measuring.benchmark_tables import as_json, report
from tests.measuring.nights import CREWS, STARTS, Night
from tests.measuring.yards import LAYOUTS, TRACKS

TAGGED = {"every": False, "tenth-untagged": True}


def main() -> None:
    """Play the evenings and print the tables."""
    arguments = _arguments()
    nights, until_s = _nights(arguments), time.monotonic() + 60.0 * arguments.minutes
    played: list[Played] = []
    for seed in range(arguments.first_seed, arguments.first_seed + arguments.seeds):
        if time.monotonic() < until_s:
            played += run(jobs_of(nights, [seed]), arguments.workers)
    play_slow_again(played)
    if arguments.json is not None:
        arguments.json.write_text(json.dumps(as_json(played)) + "\n", encoding="utf-8")
    sys.stdout.write(report(played))


def _nights(arguments: argparse.Namespace) -> list[Night]:
    if arguments.grid:
        return list(grid())
    if arguments.kept:
        return kept()
    tagged = [TAGGED[each] for each in arguments.tagged]
    measures = (arguments.layouts, arguments.missed, arguments.tracks, arguments.start, tagged, arguments.crews)
    return [Night(*each) for each in product(*measures)]


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    add = parser.add_argument
    add("--layouts", nargs="+", choices=LAYOUTS, default=list(LAYOUTS), metavar="NAME", help=", ".join(LAYOUTS))
    add("--missed", nargs="+", type=float, default=[0.05], metavar="SHARE", help="of reads, 0 to 1")
    add("--tracks", nargs="+", choices=TRACKS, default=["all"], metavar="NAME", help=f"what they feel: {', '.join(TRACKS)}")
    add("--start", nargs="+", choices=STARTS, default=["exact"], metavar="NAME", help=", ".join(STARTS))
    add("--tagged", nargs="+", choices=TAGGED, default=["every"], metavar="NAME", help=", ".join(TAGGED))
    add("--crews", nargs="+", choices=CREWS, default=["booked"], metavar="NAME", help=", ".join(CREWS))
    add("--kept", action="store_true", help="the cells of the kept table instead")
    add("--grid", action="store_true", help="every cell instead")
    add("--seeds", type=int, default=40, metavar="N", help="evenings of each cell")
    add("--first-seed", type=int, default=FIRST_SEED, metavar="N")
    add("--minutes", type=float, default=inf, metavar="N", help="after so many no further seed is begun")
    add("--workers", type=int, default=2, help="processes at once")
    add("--json", type=Path, metavar="FILE", help="write all figures, and what was wrong, there")
    return parser.parse_args()


if __name__ == "__main__":
    main()
