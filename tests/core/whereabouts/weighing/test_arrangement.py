"""Who stands where, as one possibility has it: held against plain lists, with copies, common ground and what is in doubt."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.agreeing import Beside
from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground, InDoubtError
from bridge.core.whereabouts.weighing.crossing import VEHICLE, Passed, going

from .yards import plant

VEHICLES = tuple("abcdefg")
PLANT = plant(
    {"ash.main": ("running", "up down"), "ash.dock": ("siding", "down"), "birch.main": ("running", "up")},
    [("ash.down", "birch.up")],
)
STRETCHES = sorted(PLANT.at_stretch)
BOUNDARIES = sorted(PLANT.boundaries)
MOST = 5
WHICH = st.integers(0, MOST)
ONE = st.sampled_from(VEHICLES)


class Plain:
    """The same by lists alone."""

    def __init__(self) -> None:
        self.lines: dict[str, list[str]] = {stretch: [] for stretch in STRETCHES}
        self.passed: dict[str, Passed] = {}

    def place(self, vehicle: str) -> str:
        return next((stretch for stretch, line in self.lines.items() if vehicle in line), OFF)

    def put(self, vehicle: str, stretch: str, index: int) -> None:
        for line in self.lines.values():
            if vehicle in line:
                line.remove(vehicle)
        if stretch != OFF:
            self.lines[stretch].insert(index, vehicle)


class Possible(RuleBasedStateMachine):
    """Several arrangements on one ground, each beside its plain lists; `which` picks one."""

    def __init__(self) -> None:
        super().__init__()
        self.ground = Ground()
        self.both: list[tuple[Arrangement, Plain]] = []
        self.t = 0.0

    @initialize(places=st.lists(st.sampled_from([*STRETCHES, OFF]), min_size=len(VEHICLES), max_size=len(VEHICLES)))
    def begin(self, places: list[str]) -> None:
        self.both = [(Arrangement(self.ground), Plain())]
        for vehicle, place in zip(VEHICLES, places, strict=True):
            self.put(0, vehicle, place, 1)

    def pick(self, which: int) -> tuple[Arrangement, Plain]:
        return self.both[which % len(self.both)]

    @precondition(lambda self: len(self.both) < MOST)
    @rule(which=WHICH)
    def copy(self, which: int) -> None:
        stands, plain = self.pick(which)
        self.both.append((stands.copy(), deepcopy(plain)))

    @precondition(lambda self: len(self.both) > 1)
    @rule(which=WHICH)
    def let_go(self, which: int) -> None:
        del self.both[which % len(self.both)]

    @rule(which=WHICH, vehicle=ONE, place=st.sampled_from([*STRETCHES, OFF]), end=st.booleans())
    def put(self, which: int, vehicle: str, place: str, end: bool) -> None:
        stands, plain = self.pick(which)
        stands.put(vehicle, place, int(end))
        plain.put(vehicle, place, len(VEHICLES) if end else 0)

    @rule(
        which=WHICH,
        vehicle=ONE,
        place=st.sampled_from(STRETCHES),
        index=st.integers(0, 7),
    )
    def insert(self, which: int, vehicle: str, place: str, index: int) -> None:
        stands, plain = self.pick(which)
        stands.insert(vehicle, place, index)
        plain.put(vehicle, place, index)

    @rule(which=WHICH, vehicle=ONE, where=st.sampled_from(BOUNDARIES))
    def cross(self, which: int, vehicle: str, where: str) -> None:
        """A vehicle that stands beside a boundary goes over it, and all before it first."""
        stands, plain = self.pick(which)
        boundary = PLANT.boundaries[where]
        place = stands.place(vehicle)
        if place not in (boundary.outer, boundary.throat):
            return
        outward = place == boundary.throat
        end, goal_end = (boundary.throat_end, boundary.end) if outward else (boundary.end, boundary.throat_end)
        line = plain.lines[place] if end == 0 else plain.lines[place][::-1]
        group = line[: line.index(vehicle) + 1]
        assert [*stands.ahead(vehicle, end), vehicle] == group
        assert [vehicle, *stands.behind(vehicle, end)] == line[line.index(vehicle) :]
        assert stands.outermost(place, end) == line[0]
        self.t += 1.0
        ends = (place, end, boundary.outer if outward else boundary.throat, goal_end)
        over = going(tuple(group), ends, where, Passed(vehicle, outward, self.t))
        gone = stands.gone(over, stands.line(place), stands.line(over.goal))
        stands.cross(group, boundary, outward, self.t)
        assert gone.own == stands.own
        for each in group:
            plain.put(each, boundary.outer if outward else boundary.throat, len(VEHICLES) if goal_end else 0)
        plain.passed[where] = Passed(vehicle, outward, self.t)

    @rule(which=WHICH, vehicles=st.frozensets(st.sampled_from(VEHICLES)))
    def find(self, which: int, vehicles: frozenset[str]) -> None:
        stands, plain = self.pick(which)
        assert stands.found(vehicles, STRETCHES) == [v for s in STRETCHES for v in plain.lines[s] if v in vehicles]

    @rule()
    def tell_apart(self) -> None:
        """A key is alike where everything stands alike and has passed alike, however that came about."""
        told = Beside(self.ground, [stands for stands, _ in self.both]).keys()
        for key, (_, plain) in zip(told, self.both, strict=True):
            for other_key, (_, other) in zip(told, self.both, strict=True):
                assert (key == other_key) is (plain.lines == other.lines and plain.passed == other.passed)

    @rule()
    def find_common_ground(self) -> None:
        """What all agree on is ground; what one of them has otherwise stands in each of them."""
        Beside(self.ground, [stands for stands, _ in self.both]).agree(range(len(self.both)))
        plains = [plain for _, plain in self.both]
        expected = {s for s in STRETCHES if any(p.lines[s] != plains[0].lines[s] for p in plains)}
        expected |= {VEHICLE + v for v in VEHICLES if any(p.place(v) != plains[0].place(v) for p in plains)}
        expected |= {b for b in BOUNDARIES if any(p.passed.get(b) != plains[0].passed.get(b) for p in plains)}
        assert all(set(stands.own) == expected for stands, _ in self.both)

    @precondition(lambda self: len(self.both) > 1)
    @rule(which=WHICH, data=st.data())
    def take_apart_and_join(self, which: int, data: Any) -> None:
        """Two parts of an arrangement together are the arrangement, whichever comes first."""
        stands, plain = self.pick(which)
        subjects = sorted(stands.own)
        one = frozenset(data.draw(st.lists(st.sampled_from(subjects)))) if subjects else frozenset()
        parts = [stands.only(one), stands.only(frozenset(subjects) - one)]
        assert set(parts[0].own) == one
        assert len(set(Beside(self.ground, [stands, parts[0].with_(parts[1]), parts[1].with_(parts[0])]).keys())) == 1
        self.both[which % len(self.both)] = parts[0].with_(parts[1]), plain

    @invariant()
    def stand_as_plain_lists_have_it(self) -> None:
        for stands, plain in self.both:
            assert {s: list(stands.line(s)) for s in STRETCHES} == plain.lines
            assert {v: stands.place(v) for v in VEHICLES} == {v: plain.place(v) for v in VEHICLES}
            assert {b: stands.last_at(b) for b in BOUNDARIES} == {b: plain.passed.get(b) for b in BOUNDARIES}


TestPossible = Possible.TestCase
TestPossible.settings = settings(max_examples=60, stateful_step_count=25, deadline=None)


def doubtful() -> tuple[Ground, Arrangement]:
    """Everything about the siding is in doubt."""
    ground = Ground()
    ground.has["ash.main"] = ("b",)
    ground.has[VEHICLE + "b"] = "ash.main"
    for subject in ("ash.dock", VEHICLE + "a", "ash.dock@down"):
        ground.in_doubt[subject] = "an open question"
    return ground, Arrangement(ground)


@pytest.mark.parametrize(
    ("ask", "subject"),
    [
        (lambda stands: stands.line("ash.dock"), "ash.dock"),
        (lambda stands: stands.outermost("ash.dock", 1), "ash.dock"),
        (lambda stands: stands.place("a"), VEHICLE + "a"),
        (lambda stands: stands.put("a", "ash.main", 0), VEHICLE + "a"),
        (lambda stands: stands.put("b", "ash.dock", 0), "ash.dock"),
        (lambda stands: stands.insert("b", "ash.dock", 0), "ash.dock"),
        (lambda stands: stands.ahead("a", 0), VEHICLE + "a"),
        (lambda stands: stands.last_at("ash.dock@down"), "ash.dock@down"),
        (lambda stands: stands.note("b", PLANT.boundaries["ash.dock@down"], True, 1.0), "ash.dock@down"),
        (lambda stands: stands.cross(["b"], PLANT.boundaries["ash.dock@down"], True, 1.0), "ash.dock"),
    ],
)
def test_whoever_asks_for_what_is_in_doubt_elsewhere_is_told(ask: Any, subject: str) -> None:
    _, stands = doubtful()
    with pytest.raises(InDoubtError) as found:
        ask(stands)
    assert found.value.subject == subject


def test_what_is_certain_is_told_beside_what_is_in_doubt() -> None:
    _, stands = doubtful()
    assert stands.line("ash.main") == ("b",)
    assert stands.place("b") == "ash.main"
    assert stands.line("birch.main") == ()
    assert stands.place("nobody") == OFF


def test_all_are_set_down_in_their_order_behind_who_stands_there() -> None:
    stands = Arrangement(Ground())
    stands.put("a", "ash.main", 0)
    stands.set_down([("b", "ash.main"), ("d", OFF), ("c", "ash.main")])
    assert stands.line("ash.main") == ("a", "b", "c")
    assert [stands.place(vehicle) for vehicle in "abcd"] == ["ash.main", "ash.main", "ash.main", OFF]


def test_a_copy_stays_as_it_was() -> None:
    stands = Arrangement(Ground())
    stands.put("a", "ash.dock", 0)
    copy = stands.copy()
    stands.cross(["a"], PLANT.boundaries["ash.dock@down"], False, 1.0)
    assert (copy.line("ash.dock"), copy.place("a"), copy.last_at("ash.dock@down")) == (("a",), "ash.dock", None)


def test_nobody_goes_where_somebody_only_comes_to_a_boundary() -> None:
    stands, boundary = Arrangement(Ground()), PLANT.boundaries["ash.dock@down"]
    stands.put("a", "ash.dock", 0)
    touched = Passed("a", True, 1.0, touched=True)
    come = going((), (boundary.outer, boundary.end, boundary.throat, boundary.throat_end), boundary.id, touched)
    made = stands.gone(come, ("a",), ())
    assert (made.line("ash.dock"), made.place("a"), made.last_at(boundary.id)) == (("a",), "ash.dock", touched)


def test_what_has_passed_long_ago_is_told_apart_no_more() -> None:
    ground, boundary = Ground(), PLANT.boundaries["ash.dock@down"]
    one, other = Arrangement(ground), Arrangement(ground)
    one.note("a", boundary, True, 10.0)
    other.note("a", boundary, False, 10.0)
    for recent_t, alike in ((10.0, False), (10.5, True)):
        beside = Beside(ground, [one, other], recent_t)
        told = beside.keys()
        assert (told[0] == told[1]) is alike
        beside.agree(range(2))
    assert one.last_at(boundary.id) is None
