"""How good alerts are: whether every danger is told at once, other irregularities are found, and how much is said falsely.

    python3 tests/alert_quality.py                           (in the project's environment: two seeds, an hour on two cores)
    python3 tests/alert_quality.py --seeds 1 --missed 0.05   (one seed, with everyday noise alone)
    python3 tests/alert_quality.py --quiet 40 --seeds 0      (quiet evenings alone, on either sort of railway)

Each seed has, on the demonstration railway and on one that grows from it, and at each rate of missed reads, an evening with
nothing planted, one with each mistake of the crews, one with each fault, and one with each mistake and some fault; `--quiet`
adds evenings with everyday noise alone. What is found, late and false, say `tests/measuring/alerts.py` and `alarms.py`.
Printed as Markdown; nothing is asserted. `tests/measuring/alerts.md` keeps a table.

The seeds from 5001 on are for measuring alone. Whoever tunes the core takes 701 to 999 (`--first-seed 701`).
"""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.measuring.alert_evenings import FIRST_SEED, RAILWAYS, Plan, plans, run
from tests.measuring.alert_tables import report

EVERYDAY_MISSED = 0.05


def main() -> None:
    """Play the evenings and print the tables."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    add = parser.add_argument
    add("--seeds", type=int, default=2, metavar="N", help="so many seeds with everything that can be planted")
    add("--quiet", type=int, default=20, metavar="N", help="so many seeds more with everyday noise alone")
    add("--first-seed", type=int, default=FIRST_SEED, metavar="N")
    add("--missed", nargs="+", type=float, default=[0.0, EVERYDAY_MISSED], metavar="SHARE", help="of reads, 0 to 1")
    add("--railways", nargs="+", choices=RAILWAYS, default=list(RAILWAYS), help="on which")
    add("--workers", type=int, default=2, help="processes at once")
    add("--json", type=Path, metavar="FILE", help="write all that was found, missed and false there")
    arguments = parser.parse_args()
    quiet_from = arguments.first_seed + arguments.seeds
    evenings = list(plans(range(arguments.first_seed, quiet_from), arguments.missed))
    evenings += [Plan(name, seed) for seed in range(quiet_from, quiet_from + arguments.quiet) for name in RAILWAYS]
    played = run([plan for plan in evenings if plan.railway in arguments.railways], arguments.workers)
    if arguments.json is not None:
        arguments.json.write_text(json.dumps([asdict(each) for each in played], indent=1) + "\n", encoding="utf-8")
    sys.stdout.write(report(played))


if __name__ == "__main__":
    main()
