"""A stop and a start of the service at many instants of every recording: in a register, nothing should differ.

    python3 tests/stops.py --stops 30     (in the project's environment; some ten minutes)

Exit status 1 where a stop leaves a register otherwise that is not excused (`tests/recordings/test_stops.py`).
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.recordings.test_stops import CAPTURES, HONEST, differs, instant


def found(name: str, stops: int) -> tuple[str, dict[float, list[str]]]:
    """What differs in one recording, by the instant of the stop."""
    instants = (instant(name, seed) for seed in range(stops))
    return name, {t: lines for t in instants if (lines := differs(name, t))}


def main() -> int:
    """Stop and start in every recording; 1 where something differs."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--stops", type=int, default=30, help="instants of each recording")
    stops: int = parser.parse_args().stops
    names = [name for name in CAPTURES if name not in HONEST]
    wrong = 0
    with ProcessPoolExecutor() as pool:
        for name, other in pool.map(found, names, [stops] * len(names)):
            wrong += len(other)
            for t, lines in other.items():
                print(f"{name} at {t}: {'; '.join(lines)}")
    print(f"{len(names)} recordings, {stops * len(names)} stops: {wrong} leave a register otherwise")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
