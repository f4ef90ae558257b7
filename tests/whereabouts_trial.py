"""What the engine in force gets right and wrong about evenings worked by crews, beside the plainest tracker there can be.

    python3 tests/whereabouts_trial.py     (in the project's environment; some ten minutes)
    python3 tests/whereabouts_trial.py --cells clean dirty --seeds 501 502 --json figures.json

Cells are kinds of evening: clean, each noise, each mistake of the crews, each fault, a club night (two mistakes and dirt),
and clean and noisy evenings on grown railways. Each evening is played by the virtual railway and given, as records alone, to
the real core, with the former engine beside its own (`tests/measuring/beside.py`), and to the toggle tracker (`toggle.py`
there). What is counted, and how, say `judging.py`, `places.py`, `alarms.py` and `counting.py`. Printed as Markdown; nothing
is asserted. `tests/measuring/baseline.md` keeps a table, of the former engine while it was in force and the toggle tracker.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.measuring.cells import CELLS
from tests.measuring.tables import as_json, report
from tests.measuring.trial import jobs_of, run

SEEDS = [501, 502, 503, 504, 505]
"""Far from those of all tests, and of whoever tunes an engine."""


def main() -> None:
    """Play the evenings and print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--seeds", type=int, nargs="+", default=SEEDS, help="of the demonstration railway")
    parser.add_argument("--grown", type=int, default=6, metavar="N", help="so many grown railways (0: none)")
    parser.add_argument("--cells", nargs="+", choices=CELLS, default=list(CELLS), metavar="NAME", help=", ".join(CELLS))
    parser.add_argument("--workers", type=int, default=2, help="processes at once")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write all figures, and what was wrong, there")
    arguments = parser.parse_args()
    played = run(jobs_of(arguments.cells, arguments.seeds, arguments.grown), arguments.workers)
    if arguments.json is not None:
        arguments.json.write_text(json.dumps(as_json(played), indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(report(played))


if __name__ == "__main__":
    main()
