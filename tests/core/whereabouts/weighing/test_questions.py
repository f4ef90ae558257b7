"""What is in doubt, each matter by itself: joined where evidence concerns several, taken apart where they can be."""

from __future__ import annotations

import random
from collections.abc import Sequence
from math import exp, log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.plant import Boundary
from bridge.core.whereabouts.weighing import parting
from bridge.core.whereabouts.weighing.agreeing import Beside
from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground
from bridge.core.whereabouts.weighing.crossing import VEHICLE
from bridge.core.whereabouts.weighing.hypotheses import HOPELESS, Branches, Hypothesis
from bridge.core.whereabouts.weighing.parting import parted
from bridge.core.whereabouts.weighing.questions import JOINED, MOST, Explain, Questions

from . import exactly

STATIONS = ("ash", "birch", "cedar")
ROADS = ("main", "loop", "dock")


def begun(*stations: str) -> Explain:
    """One wagon on the main of each station."""

    def explained(hypothesis: Hypothesis, branches: Branches) -> None:
        for station in stations:
            hypothesis.stands.put(f"w {station}", f"{station}.main", 1)
        branches.add(hypothesis)

    return explained


def shunted(station: str, chances: Sequence[float]) -> Explain:
    """Its wagon was taken to one of the roads, more or less likely by where it stands."""

    def explained(hypothesis: Hypothesis, branches: Branches) -> None:
        here = ROADS.index(hypothesis.stands.place(f"w {station}").partition(".")[2])
        for step, chance in enumerate(chances):
            made = hypothesis.branch(log(chance))
            made.stands.put(f"w {station}", f"{station}.{ROADS[(here + step) % len(ROADS)]}", 1)
            branches.add(made)

    return explained


def beside(one: str, other: str, alike: float) -> Explain:
    """The wagons of two stations are likelier on roads of one name: evidence that concerns both."""

    def explained(hypothesis: Hypothesis, branches: Branches) -> None:
        roads = {hypothesis.stands.place(f"w {station}").partition(".")[2] for station in (one, other)}
        branches.add(hypothesis.branch(log(alike if len(roads) == 1 else 1.0 - alike)))

    return explained


def assert_sound(found: Questions) -> None:
    """Each question sums to one, holds exactly one answer, the likeliest first; nothing is in two questions."""
    about = [subject for question in found.open for subject in question.about]
    assert len(about) == len(set(about))
    for question in found.open:
        assert 2 <= len(question.rows) <= MOST
        assert sum(exp(row.weight) for row in question.rows) == pytest.approx(1.0, abs=1e-9)
        assert sum(row.held for row in question.rows) == 1
        assert [row.weight for row in question.rows] == sorted((row.weight for row in question.rows), reverse=True)


CHANCES = st.lists(st.floats(0.05, 1.0), min_size=2, max_size=3)
STEPS = st.lists(st.tuples(st.sampled_from(STATIONS), CHANCES), min_size=1, max_size=6)


@settings(max_examples=60, deadline=None)
@given(steps=STEPS)
def test_matters_at_several_stations_are_weighed_alike_together_and_apart(steps: list[tuple[str, list[float]]]) -> None:
    """Evidence of one station leaves the others as they are, and is worth as much as if there were no other."""
    together = Questions()
    together.weigh(begun(*STATIONS), 0.0, part=True)
    for station, chances in steps:
        together.weigh(shunted(station, chances), 0.0, part=True)
        assert_sound(together)
    for station in STATIONS:
        alone = exactly.chains([begun(station), *(shunted(s, chances) for s, chances in steps if s == station)])
        said, true = together.places(f"w {station}"), exactly.places(alone, f"w {station}")
        assert all(abs(said.get(place, 0.0) - chance) < 3e-3 + together.let_go for place, chance in true.items())
        assert together.place(f"w {station}") in true


@settings(max_examples=60, deadline=None)
@given(one=CHANCES, other=CHANCES, third=CHANCES, alike=st.floats(0.2, 0.8), part=st.booleans())
def test_evidence_that_concerns_two_matters_joins_them(
    one: list[float], other: list[float], third: list[float], alike: float, part: bool
) -> None:
    evidence = [begun(*STATIONS)]
    evidence += [shunted(s, chances) for s, chances in zip(STATIONS, (one, other, third), strict=True)]
    evidence.append(beside("ash", "birch", alike))
    found, exact = Questions(), exactly.chains(evidence)
    for each in evidence:
        found.weigh(each, 0.0, part=part)
        assert_sound(found)
    for station in STATIONS:
        said, true = found.places(f"w {station}"), exactly.places(exact, f"w {station}")
        assert all(abs(said.get(p, 0.0) - chance) < parting.MATTERS + found.let_go + 1e-9 for p, chance in true.items())
    assert not any({f"{VEHICLE}w cedar", f"{VEHICLE}w ash"} <= set(question.about) for question in found.open)


def rows_of(chances: dict[tuple[str, str], float]) -> list[Hypothesis]:
    """(road of the wagon at Ash, road of the wagon at Birch) to its probability, as the rows of one question."""
    rows, ground = [], Ground()
    for number, (roads, chance) in enumerate(sorted(chances.items(), key=lambda row: -row[1])):
        stands = Arrangement(ground)
        for station, road in zip(("ash", "birch"), roads, strict=True):
            stands.put(f"w {station}", f"{station}.{road}", 1)
        rows.append(Hypothesis(stands, log(chance), held=number == 0))
    Beside(ground, [row.stands for row in rows]).agree(range(len(rows)))
    return rows


def test_what_tells_nothing_of_each_other_is_taken_apart() -> None:
    ash, birch = {"main": 0.7, "loop": 0.2, "dock": 0.1}, {"main": 0.6, "dock": 0.4}
    rows = rows_of({(a, b): ash[a] * birch[b] for a in ash for b in birch})
    found = parted(rows)
    assert sorted(sorted(round(exp(row.weight), 9) for row in question) for question in found) == [
        [0.1, 0.2, 0.7],
        [0.4, 0.6],
    ]
    assert [sum(row.held for row in question) for question in found] == [1, 1]


def test_what_hangs_together_is_left_together() -> None:
    rows = rows_of({("main", "main"): 0.5, ("loop", "loop"): 0.3, ("loop", "main"): 0.2})
    assert parted(rows) == [rows]


def test_what_hangs_together_by_less_than_matters_is_taken_apart() -> None:
    near = parting.MATTERS / 8.0
    for hangs, questions in ((near, 2), (parting.MATTERS, 1)):
        even = {(a, b): 0.25 + (hangs if a == b else -hangs) for a in ("main", "loop") for b in ("main", "loop")}
        assert len(parted(rows_of(even))) == questions


def test_what_is_held_gives_way_only_to_what_is_clearly_likelier() -> None:
    """It does not flicker between two that are equally likely."""
    found = Questions()
    found.weigh(begun("ash"), 0.0, part=True)
    found.weigh(shunted("ash", (0.5, 0.5)), 0.0, part=True)
    held = found.place("w ash")
    for favour, expected in ((0.6, held), (0.6, "other"), (0.5, "other"), (0.4, "other")):

        def explained(hypothesis: Hypothesis, branches: Branches, favour: float = favour) -> None:
            is_held = hypothesis.stands.place("w ash") == held
            branches.add(hypothesis.branch(log(1.0 - favour if is_held else favour)))

        found.weigh(explained, 0.0, part=True)
        assert (found.place("w ash") == held) == (expected == held)


def test_as_many_answers_as_there_may_be_remain_and_what_was_let_go_is_told() -> None:
    chance = random.Random("many")
    found = Questions()
    found.weigh(begun("ash"), 0.0, part=True)
    weights = [chance.uniform(1.0, 2.0) for _ in range(3 * MOST)]

    def anywhere(hypothesis: Hypothesis, branches: Branches) -> None:
        for number, weight in enumerate(weights):
            made = hypothesis.branch(log(weight / sum(weights)))
            made.stands.put("w ash", f"ash.{number}", 1)
            branches.add(made)

    found.weigh(anywhere, 0.0, part=True)
    assert_sound(found)
    assert sum(len(question.rows) for question in found.open) == MOST
    kept = sum(sorted(weights)[-MOST:]) / sum(weights)
    assert found.let_go == pytest.approx(1.0 - kept)


@pytest.mark.parametrize("is_mute", [True, False])
def test_what_passed_where_nothing_tells_of_it_keeps_no_answers_apart(is_mute: bool) -> None:
    mouths = [Boundary(f"ash.{road}@down", f"ash.{road}", 1, "ash.down", 0) for road in ROADS]
    found = Questions(frozenset(mouth.id for mouth in mouths) if is_mute else frozenset())
    found.weigh(begun("ash"), 0.0, part=True)

    def by_any_mouth(hypothesis: Hypothesis, branches: Branches) -> None:
        for mouth in mouths:
            made = hypothesis.branch(-log(len(mouths)))
            made.stands.note("w ash", mouth, True, 5.0)
            branches.add(made)

    found.weigh(by_any_mouth, 0.0, part=True)
    assert_sound(found)
    assert sum(len(question.rows) for question in found.open) == (0 if is_mute else len(ROADS))


def scattered(station: str) -> Explain:
    """Its wagon may be in any of so many places that not all of them can be weighed."""

    def explained(hypothesis: Hypothesis, branches: Branches) -> None:
        for number in range(2 * MOST):
            made = hypothesis.branch(log(0.5 / MOST))
            made.stands.put(f"w {station}", f"{station}.{number}", 1)
            branches.add(made)

    return explained


def hardly_otherwise(hypothesis: Hypothesis, branches: Branches) -> None:
    """The wagon at Ash goes back to where it was first, if not, as is hopelessly unlikely, to another road."""
    for place, weight in (("ash.main", 0.0), ("ash.dock", -2.0 * HOPELESS)):
        made = hypothesis.branch(weight)
        made.stands.put("w ash", place, 1)
        branches.add(made)


def test_what_was_let_go_is_told_of_the_vehicles_that_it_concerned_alone() -> None:
    found = Questions()
    found.weigh(begun(*STATIONS), 0.0, part=True)
    found.weigh(scattered("ash"), 0.0, part=True)
    assert found.loose["w ash"] == pytest.approx(found.let_go) != 0.0
    assert found.loose.get("w birch", 0.0) == found.loose.get("w cedar", 0.0) == 0.0


def test_what_is_let_go_time_after_time_adds_up_until_the_vehicle_is_seen() -> None:
    found = Questions()
    found.weigh(begun("ash", "birch"), 0.0, part=True)
    found.weigh(scattered("ash"), 0.0, part=True)
    found.weigh(scattered("birch"), 0.0, part=True)
    once, other = found.loose["w ash"], found.loose["w birch"]
    found.weigh(hardly_otherwise, 0.0, part=True)
    assert once < found.loose["w ash"] < 1.0
    assert found.loose["w birch"] == other
    found.seen("w ash")
    assert found.loose.get("w ash", 0.0) == 0.0 < found.loose["w birch"]


def test_where_nothing_was_let_go_nothing_is_told() -> None:
    found = Questions()
    found.weigh(begun("ash"), 0.0, part=True)
    found.weigh(shunted("ash", (0.6, 0.4)), 0.0, part=True)
    assert found.loose["w ash"] == found.let_go == 0.0


def test_however_many_matters_become_one_only_so_many_are_weighed() -> None:
    """The likeliest of them; what the others are worth is told as let go."""
    found = Questions()
    found.weigh(begun(*STATIONS), 0.0, part=True)
    even = [1.0 / MOST] * MOST
    for station in STATIONS:

        def anywhere(hypothesis: Hypothesis, branches: Branches, station: str = station) -> None:
            for number, chance in enumerate(even):
                made = hypothesis.branch(log(chance))
                made.stands.put(f"w {station}", f"{station}.{number}", 1)
                branches.add(made)

        found.weigh(anywhere, 0.0, part=True)
    assert [len(question.rows) for question in found.open] == [MOST] * len(STATIONS)
    weighed: list[str] = []

    def concerns_all(hypothesis: Hypothesis, branches: Branches) -> None:
        weighed.append(" ".join(hypothesis.stands.place(f"w {station}") for station in STATIONS))
        for number in range(MOST):
            made = hypothesis.branch(log(1.0 / MOST))
            made.stands.put("w more", f"ash.{number}", 1)
            branches.add(made)

    found.weigh(concerns_all, 0.0, part=True)
    assert len(weighed) == len(set(weighed)) == JOINED * MOST
    assert_sound(found)
    assert found.let_go > 0.9
