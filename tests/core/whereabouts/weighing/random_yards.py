"""Random small yards and random evidence of them, sense and nonsense alike: what must hold whatever is told.

    python3 tests/core/whereabouts/weighing/random_yards.py --yards 10000     (in the project's environment; some minutes)

No exception; in every answer to every open question each vehicle stands once; probabilities sum to one; the number of
answers is bounded; and all evidence at once comes to the same, to the last digit, as half, saved, loaded, and the rest.
`--half FILE` weighs the first half of the evidence and saves it, `--rest FILE` goes on from there, each in a process of its
own; both print what they have come to.
"""

from __future__ import annotations

import argparse
import pickle
import random
import sys
from collections.abc import Iterator, Sequence
from hashlib import sha256
from itertools import pairwise
from math import exp
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[4]))

from bridge.core.conditioning import Observation
from bridge.core.plan import Vehicle
from bridge.core.plant import DetectorKind, Plant
from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.questions import MOST
from bridge.core.whereabouts.weighing.tracker import Tracker
from tests.core.whereabouts.weighing.yards import Expecting, plant

STATIONS = ("ash", "birch", "cedar")


def a_plant(chance: random.Random) -> Plant:
    """One to three stations in a line, perhaps with a second section between two of them."""
    roads, sections = {}, []
    stations = STATIONS[: chance.randint(1, 3)]
    for station in stations:
        for name in ("main", "loop", "dock", "pit")[: chance.randint(1, 4)]:
            if name in ("dock", "pit"):
                roads[f"{station}.{name}"] = (chance.choice(("siding", "headshunt")), chance.choice(("up", "down")))
            else:
                kind = "running" if name == "main" else "loop"
                roads[f"{station}.{name}"] = (kind, chance.choice(("up down", "up down", "up", "down")))
    for one, other in pairwise(stations):
        sections += [(f"{one}.down", f"{other}.up")] * chance.choice((1, 1, 1, 2))
    bare = plant(roads, sections)
    kept = chance.choice((0.2, 0.5, 0.8, 1.0))
    readers = [b for b in bare.boundaries if chance.random() < kept] or list(bare.boundaries)[:1]
    return plant(roads, sections, readers, [s for s in bare.at_stretch if chance.random() < chance.choice((0.0, 0.5, 1.0))])


def a_stock(chance: random.Random) -> dict[str, Vehicle]:
    """Engines and wagons, some with two tags or none, some that track detectors do not see."""
    found = {}
    for kind, number in (("engine", chance.randint(1, 2)), ("wagon", chance.randint(1, 9))):
        for n in range(number):
            id_ = f"{kind[0]}{n}"
            tags = tuple(f"{id_.upper()}{side}" for side in range(chance.choice((0, 1, 1, 1, 1, 2))))
            found[id_] = Vehicle(id_, kind, 100.0, tags, kind == "engine" or chance.random() < 0.6)
    return found


class Evening:
    """A yard, and all that is told of it: the seed alone says what."""

    def __init__(self, seed: int) -> None:
        chance = random.Random(f"random yard {seed}")
        self.plant, self.stock = a_plant(chance), a_stock(chance)
        stretches = list(self.plant.at_stretch)
        roads = list(self.plant.roads)
        self.standing = [(v, chance.choice(stretches)) for v in self.stock if chance.random() < 0.9]
        self.goals = {v: chance.choice(roads) for v in self.stock if chance.random() < 0.3}
        self.shut = {b for b in self.plant.boundaries if chance.random() < 0.1}
        self.told = list(self._observations(chance, chance.randint(8, 40)))

    def _observations(self, chance: random.Random, number: int) -> Iterator[Observation]:
        tags = [tag for vehicle in self.stock.values() for tag in vehicle.tags] + ["BAD"]
        t, last = 100.0, None
        for n in range(number):
            t = round(t + chance.choice((0.0, 0.05, 0.3, 0.8, 0.8, 2.0, 5.0, 11.0, 40.0)), 6)
            detector = chance.choice(list(self.plant.detectors.values()))
            moves, happened_t = chance.random() < 0.9, round(t - chance.choice((0.0, 0.0, 0.2)), 6)
            if last is not None and chance.random() < 0.15:
                detector, tag, state = last
            elif detector.kind is DetectorKind.READER:
                tag, state = chance.choice(tags), None
            else:
                tag, state = None, chance.choice(("occupied", "clear", "occupied", "clear", "unknown"))
            last = detector, tag, state
            yield Observation(n, t, happened_t, detector.id, detector.kind.value, state, tag, moves)


class Fold:
    """One evening as far as it was told; what is saved and loaded."""

    def __init__(self, evening: Evening) -> None:
        self.prior = Expecting(goals=evening.goals, shut=evening.shut)
        self.prior.states = dict.fromkeys(evening.plant.covering, "unknown")
        self.tracker = Tracker(evening.plant, evening.stock)
        self.tracker.begin(evening.standing, 0.0)

    def take(self, told: Sequence[Observation], look: bool = False) -> Fold:
        """Some more; `look`: see after each that all is sound."""
        for seen in told:
            self.tracker.pass_deadline(seen.t, self.prior)
            covers = self.tracker.yard.plant.detectors[seen.detector].covers
            if covers is not None and seen.state is not None:
                self.prior.states[covers] = seen.state
            self.tracker.take(seen, self.prior)
            if look:
                assert_sound(self.tracker)
        return self

    def digest(self) -> str:
        """Everything that is believed, to the last digit."""
        tracker, questions = self.tracker, self.tracker.questions
        stretches, vehicles = list(tracker.yard.plant.at_stretch), list(tracker.yard.stock)
        rows = [[(row.weight, row.held, sorted(row.stands.own)) for row in q.rows] for q in questions.open]
        held = [questions.line(stretch) for stretch in stretches]
        places = [(tracker.place(v), list(questions.places(v).items())) for v in vehicles]
        passed = [questions.last_at(b) for b in tracker.yard.plant.boundaries]
        missed = [tracker.yard.quality.missed(b) for b in tracker.yard.plant.boundaries]
        said = (rows, held, places, passed, missed, questions.let_go, tracker.deadlines.first())
        return sha256(repr(said).encode()).hexdigest()


def assert_sound(tracker: Tracker) -> None:
    """Each vehicle once in every answer, answers that sum to one, and not too many of them."""
    open_ = tracker.questions.open
    subjects = [subject for question in open_ for subject in question.about]
    assert len(subjects) == len(set(subjects)), "two questions are about one thing"
    for question in open_:
        assert 2 <= len(question.rows) <= MOST
        assert sum(row.held for row in question.rows) == 1
        assert abs(sum(exp(row.weight) for row in question.rows) - 1.0) < 1e-9
        others = [other.held.stands for other in open_ if other is not question]
        for row in question.rows:
            whole = row.stands.copy()
            for other in others:
                whole = whole.with_(other)
            assert_each_once(tracker, whole)
    for vehicle in tracker.yard.stock:
        places = tracker.questions.places(vehicle)
        assert abs(sum(places.values()) - 1.0) < 1e-9
        assert tracker.place(vehicle) in places
        held = tracker.questions.place(vehicle)
        assert held == OFF or vehicle in tracker.questions.line(held)
    assert 0.0 <= tracker.questions.let_go < 1.0


def assert_each_once(tracker: Tracker, whole: Arrangement) -> None:
    """Every vehicle stands once, where it is said to be."""
    on = [(vehicle, stretch) for stretch in tracker.yard.plant.at_stretch for vehicle in whole.line(stretch)]
    at = [(vehicle, whole.place(vehicle)) for vehicle in tracker.yard.stock]
    assert sorted(on) == sorted(row for row in at if row[1] != OFF)


def try_yard(seed: int) -> str:
    """All that must hold of one yard; what it came to."""
    evening = Evening(seed)
    whole = Fold(evening).take(evening.told, look=True)
    half = len(evening.told) // 2
    part = Fold(evening).take(evening.told[:half])
    part = pickle.loads(pickle.dumps(part))
    assert part.take(evening.told[half:]).digest() == whole.digest(), "saved, loaded and gone on it comes to something else"
    return whole.digest()


def main() -> int:
    """Try yards; 1 where something does not hold."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--yards", type=int, default=10_000)
    parser.add_argument("--seed", type=int, default=1, help="of the first yard; the others count on from it")
    parser.add_argument("--half", type=Path, metavar="FILE")
    parser.add_argument("--rest", type=Path, metavar="FILE")
    arguments = parser.parse_args()
    seeds = range(arguments.seed, arguments.seed + arguments.yards)
    if arguments.half or arguments.rest:
        print(*(halves(seeds, arguments.half) if arguments.half else rests(seeds, arguments.rest)), sep="\n")
        return 0
    wrong = 0
    for seed in seeds:
        try:
            try_yard(seed)
        except Exception as error:  # whatever it is, the other yards are tried all the same
            wrong += 1
            print(f"yard {seed}: {type(error).__name__}: {error}", flush=True)
    print(f"{arguments.yards} random yards from {arguments.seed}: {wrong} wrong")
    return 1 if wrong else 0


def halves(seeds: Sequence[int], file: Path) -> list[str]:
    """What the first half of the evidence comes to; saved in a file."""
    evenings = [Evening(seed) for seed in seeds]
    folds = [Fold(evening).take(evening.told[: len(evening.told) // 2]) for evening in evenings]
    file.write_bytes(pickle.dumps(folds))
    return [fold.digest() for fold in folds]


def rests(seeds: Sequence[int], file: Path) -> list[str]:
    """What all the evidence comes to, going on from what was saved."""
    folds = pickle.loads(file.read_bytes())
    evenings = [Evening(seed) for seed in seeds]
    rows = zip(folds, evenings, strict=True)
    return [fold.take(evening.told[len(evening.told) // 2 :]).digest() for fold, evening in rows]


if __name__ == "__main__":
    sys.exit(main())
