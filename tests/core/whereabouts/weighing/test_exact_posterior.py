"""What is believed is the exact posterior of the engine's own chances: held against brute force."""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from functools import cache
from math import exp

import pytest

from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing import hypotheses, parting, questions
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.questions import Questions
from bridge.core.whereabouts.weighing.yard import Yard

from . import exactly
from .yards import Evidence, Expecting, Explain, explain, plant, set_down, stock

RECENT_S = 20.0
CASES = 120


def a_yard(chance: random.Random) -> tuple[Yard, list[tuple[str, str]]]:
    """One or two sidings, sometimes a road for trains, a throat, a section; three to five vehicles, the engine first."""
    roads = {"ash.dock": ("siding", "down")}
    if chance.random() < 0.6:
        roads["ash.pit"] = ("siding", "down")
    if chance.random() < 0.5:
        roads["ash.main"] = ("running", "down")
    mouths = [f"{road}@down" for road in roads] + ["ash-birch@ash"]
    readers = [mouth for mouth in mouths if chance.random() < 0.7] or mouths[:1]
    stretches = [*roads, "ash.down", "ash-birch"]
    tracks = [stretch for stretch in stretches if chance.random() < 0.7] or ["ash.down"]
    vehicles = ["e1", "w1", "w2", "w3", "w4"][: chance.randint(3, 5)]
    untagged = [v for v in vehicles[1:] if chance.random() < 0.1]
    yard = Yard(
        plant(roads, [("ash.down", "birch.up")], readers, tracks),
        stock(*vehicles, untagged=untagged, undetected=[v for v in vehicles[1:] if chance.random() < 0.2]),
    )
    places = [*roads, "ash.down", "ash-birch"]
    standing = [(v, chance.choice(places)) for v in chance.sample(vehicles, len(vehicles)) if chance.random() < 0.95]
    return yard, standing


def evidence(yard: Yard, chance: random.Random) -> list[Evidence]:
    """Some reads, some changes of track detectors, some quiet; of every kind whatever stands there."""
    found, t = [], 100.0
    readers = [b for b in yard.plant.boundaries if yard.plant.read_at(b)]
    tagged = [v for v in yard.stock if yard.stock[v].tags]
    kinds = ["read", "read", "read", "echo", "occupied", "clear", "settled"]
    gaps_s = [0.5, 1.0, 3.0]
    if chance.random() < 0.5:
        gaps_s += [12.0, 30.0]  # what passed so long ago is told apart no more
    else:
        kinds.append("quiet")  # which comes soon after something has passed
    for _ in range(chance.randint(2, 6)):
        t += chance.choice(gaps_s)
        kind = chance.choice(kinds)
        if kind in ("read", "echo"):
            found.append(Evidence(kind, chance.choice(readers), t, chance.choice(tagged)))
        elif kind == "quiet":
            found.append(Evidence(kind, chance.choice(readers), t))
        elif kind == "settled":
            found.append(Evidence(kind, "ash.down", t))
        else:
            found.append(Evidence(kind, chance.choice(list(yard.plant.covering)), t))
    return found


class Case:
    """A yard, where everything stands at first, and what is told of it."""

    def __init__(self, seed: int) -> None:
        chance = random.Random(f"exact posterior {seed}")
        self.yard, standing = a_yard(chance)
        self.told = evidence(self.yard, chance)
        prior = Expecting(goals={"w1": "ash.dock"} if chance.random() < 0.5 else {})
        seen = {v: "ash" for v, place in standing if place != "ash-birch"}
        self.explanations: list[Explain] = [set_down(standing)]
        for each in self.told:
            self.explanations.append(self._with_states(explain(self.yard, prior, each, seen), prior, each))

    def _with_states(self, explained: Explain, prior: Expecting, each: Evidence) -> Explain:
        """Detectors say what they have said last, whichever engine asks."""
        states = dict(prior.states)
        if each.kind in ("occupied", "clear"):
            prior.states[each.subject] = states[each.subject] = each.kind

        def under(*what: object) -> None:
            prior.states = states
            explained(*what)  # type: ignore[arg-type]

        return under

    def weighed(self) -> Questions:
        """What the engine makes of it."""
        found = Questions()
        for explained, t in zip(self.explanations, [0.0, *(each.t for each in self.told)], strict=True):
            found.weigh(explained, t - RECENT_S, part=True)
        return found

    def chains(self) -> list[tuple[float, Arrangement]]:
        """Everything that can have come about; `exactly.TooManyError` where that is too much."""
        return exactly.chains(self.explanations)


def believed_lines(found: Questions, stretch: str) -> dict[tuple[str, ...], float]:
    """Line to the probability that a stretch holds just it."""
    summed: dict[tuple[str, ...], float] = {}
    about = next((q for q in found.open if stretch in q.about), None)
    for row in about.rows if about else ():
        summed[row.stands.line(stretch)] = summed.get(row.stands.line(stretch), 0.0) + exp(row.weight)
    return summed or {found.line(stretch): 1.0}


def furthest_off(case: Case, found: Questions, exact: Sequence[tuple[float, Arrangement]]) -> float:
    """The largest error of any probability: of a vehicle's stretch, and of the order on a stretch."""
    off = 0.0
    for vehicle in case.yard.stock:
        said, true = found.places(vehicle), exactly.places(exact, vehicle)
        off = max([off, *(abs(said.get(place, 0.0) - true.get(place, 0.0)) for place in {*said, *true, OFF})])
    for stretch in case.yard.plant.at_stretch:
        said_lines, true_lines = believed_lines(found, stretch), exactly.lines(exact, stretch)
        off = max([off, *(abs(said_lines.get(x, 0.0) - true_lines.get(x, 0.0)) for x in {*said_lines, *true_lines})])
    return off


@cache
def tried(cases: int) -> list[tuple[Case, list[tuple[float, Arrangement]]]]:
    """Cases that brute force has room for."""
    found = []
    for seed in range(cases):
        case = Case(seed)
        try:
            found.append((case, case.chains()))
        except exactly.TooManyError:
            continue
    return found


def test_what_is_believed_is_the_exact_posterior(monkeypatch: pytest.MonkeyPatch, figure: Callable[[str], None]) -> None:
    """To 1e-9 where nothing is let go and nothing is taken for independent that is not."""
    for module in (hypotheses, questions):
        monkeypatch.setattr(module, "HOPELESS", 1e6)
    monkeypatch.setattr(questions, "MOST", 10**9)
    monkeypatch.setattr(parting, "MATTERS", 0.0)
    cases = tried(CASES)
    assert len(cases) > CASES / 2
    worst, open_ = 0.0, 0
    for case, exact in cases:
        found = case.weighed()
        open_ += bool(found.open)
        worst = max(worst, furthest_off(case, found, exact))
        assert worst < 1e-9, case.told
    assert open_ > len(cases) / 3  # something was in doubt: it is no test of certainty alone
    figure(f"exact posterior: {len(cases)} small yards, {sum(len(e) for _, e in cases)} chains, furthest off {worst:.1e}")


def test_what_was_let_go_is_known(figure: Callable[[str], None]) -> None:
    """With the constants in force: how far off the worst probability of a case is, beside what the engine says it let go."""
    rows = []
    for case, exact in tried(CASES):
        found = case.weighed()
        rows.append((furthest_off(case, found, exact), found.let_go))
    offs = sorted(off for off, _ in rows)
    assert offs[len(offs) // 2] < 0.01
    figure(
        f"with what is hopeless let go: furthest off {offs[len(offs) // 2]:.1e} in the median of {len(offs)} small yards, "
        f"{offs[int(len(offs) * 0.95)]:.1e} in 95 of 100, {offs[-1]:.1e} at most; "
        f"off by more than was let go and {parting.MATTERS}: {sum(off > gone + parting.MATTERS for off, gone in rows)}"
    )
