"""Random railways worked to the end by their crews, or as far as a reason that is true.

    python3 tests/virtual_trial.py --railways 200 --seed 1     (in the project's environment; some two minutes)

Each railway is grown from a seed of its own: track, detectors, stock, timetable and moves, some of them awkward. To hold, of
each: the folder has no fault (and a conflict only where something awkward was asked for); in the film of the evening nothing
passes or overlaps; boards said what was there and nothing else; what was not done has a reason; and each reason is so when
the plant, the plan and the film are asked (`virtual/reasons.py`). Exit status 1 where one of these does not hold, or where
the slowest railway was not worked at 500 times real time (growing, recording and this judging of the film included).
"""

from __future__ import annotations

import argparse
import statistics
import sys
import traceback
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from tests.virtual.grown import GrownEvening, worked
from tests.virtual.hearing import misheard
from tests.virtual.reasons import judged

TIMES_REAL = 500.0


@dataclass
class Tally:
    """What came of all railways so far."""

    wrong: list[str] = field(default_factory=list)
    factors: list[float] = field(default_factory=list)
    evening_s: float = 0.0
    moves: Counter[tuple[bool, bool]] = field(default_factory=Counter)
    """(the railway has something awkward, the move was done) -> how many."""
    reasons: Counter[tuple[str, str]] = field(default_factory=Counter)
    shown: list[str] = field(default_factory=list)

    def take(self, work: GrownEvening) -> None:
        """One more railway."""
        seed, is_awkward = work.seed, bool(work.grown.awkward)
        conflicts = [f for f in work.findings if f.level == "conflict"]
        if conflicts and not is_awkward:
            self.wrong.append(f"seed {seed}: the folder has a conflict: {conflicts[0].message}")
        self.wrong += [f"seed {seed}: {what}" for what in (*work.film.wrong[:3], *misheard(work)[:3])]
        self.factors.append(work.times_real)
        self.evening_s += work.evening.timeline.now_s
        done = work.done()
        self.moves.update((is_awkward, one) for one in done)
        reasons = judged(work)
        for reason in reasons:
            self.reasons[reason.kind, reason.verdict] += 1
            if reason.verdict == "false":
                self.wrong.append(f"seed {seed}: a reason is not true: {reason.text}")
            elif reason.verdict == "unjudged":
                self.shown.append(f"seed {seed}: {reason.text}")
        untold = [move.vehicle for move, is_done in zip(work.railway.moves, done, strict=True) if not is_done]
        told = {reason.vehicle for reason in work.evening.scene.truth.reasons}
        self.wrong += [f"seed {seed}: {vehicle} was not brought, and no reason is given" for vehicle in set(untold) - told]


def main() -> int:
    """Work the railways and print what came of it; 1 where something does not hold."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--railways", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1, help="of the first railway; the others count on from it")
    arguments = parser.parse_args()
    tally = Tally()
    for seed in range(arguments.seed, arguments.seed + arguments.railways):
        try:
            tally.take(worked(seed))
        except Exception:  # whatever it is, the other railways are worked all the same
            tally.wrong.append(f"seed {seed}: {traceback.format_exc(limit=-3)}")
    return _told(tally)


def _told(tally: Tally) -> int:
    factors, hours = tally.factors, tally.evening_s / 3600.0
    print(
        f"{len(factors)} railways, {hours:.1f} h of evenings; times real: median {statistics.median(factors):.0f},", end=""
    )
    print(f" worst {min(factors):.0f}")
    for is_awkward, words in ((False, "nothing awkward"), (True, "something awkward")):
        done, left = tally.moves[is_awkward, True], tally.moves[is_awkward, False]
        print(f"  with {words}: {done} of {done + left} moves done ({100.0 * done / max(done + left, 1):.1f} %)")
    print("  reasons by kind:")
    for (kind, verdict), count in tally.reasons.most_common():
        print(f"  {count:5}  {verdict:8}  {kind}")
    for line in (*tally.shown, *tally.wrong):
        print(line)
    if min(factors) < TIMES_REAL:
        print(f"the slowest railway was worked at {min(factors):.0f} times real time, which is below {TIMES_REAL:.0f}")
        return 1
    return 1 if tally.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
