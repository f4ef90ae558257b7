"""What is plain enough of trains and sections, rule by rule: each with what is just plain, and with what just is not.

g1 (e1 w1 v1) is booked from Ash, r3 (e3) stands at Birch; what is believed of them is told by each test.
"""

from __future__ import annotations

from typing import Any

import pytest

from bridge.core.line import plainly
from bridge.core.line.tokens import Grant
from bridge.core.presence import NEAR_S, Presence
from bridge.core.trains import Phase
from bridge.core.wagons.moves import LIKELY, PLAIN
from bridge.core.whereabouts import Crossing

from ..believed import Believed
from ..conftest import ENDS, Session, line

SECTION, THROAT = "ash-birch", "ash.down"
AT_BOTH, AT_ASH = ENDS, ENDS[:1]


def state_of(where: Believed, *on: str, detectors: tuple[str, ...] = ("line", *ENDS), **files: str) -> Any:
    """A session that has begun, in which this is believed by now, and these detectors say that they are on."""
    s = Session(line(detectors=detectors, **files)).on(*on).wait(30.0)
    s.state.where = where  # type: ignore[assignment]
    return s.state


def crossed(vehicle: str = "w1", by: str = "seen", t: float = 30.0, start: str = THROAT) -> Crossing:
    return Crossing(t, 1, vehicle, start, SECTION, by)


def g1_in(state: Any, train: str = "g1", start: str = THROAT, ago_s: float = 0.0) -> Presence:
    """That train is held to be in the section, with its last sign so long ago."""
    engine = state.roster.trains[train].engine
    presence = Presence(train, engine, SECTION, start, 10.0, 1, engine, state.t - ago_s, engine)
    state.presences[SECTION] = [presence]
    return presence


@pytest.mark.parametrize(
    ("likely", "by", "sure", "is_in"),
    [
        (0.6, "seen", 0.6, True),
        (0.59, "seen", 0.9, False),
        (0.95, "order", 0.95, True),
        (0.94, "order", 0.94, False),  # who is only reckoned to be there has to be so plainly
        (0.9, "seen", 0.59, False),  # nor is it known where it is
        (0.97, "order", 0.79, False),
    ],
)
def test_who_was_read_is_in_it_where_likely_and_who_is_reckoned_where_plain(
    likely: float, by: str, sure: float, is_in: bool
) -> None:
    where = Believed({"w1": {SECTION: likely, THROAT: 1.0 - likely}}, by={"w1": by}, sure={"w1": sure})
    assert plainly.is_in(state_of(where), "w1", SECTION) is is_in


@pytest.mark.parametrize(("likely", "least", "is_out"), [(0.05, PLAIN, True), (0.06, PLAIN, False), (0.19, 0.8, True)])
def test_who_is_out_is_plainly_elsewhere(likely: float, least: float, is_out: bool) -> None:
    state = state_of(Believed({"w1": {SECTION: likely, "birch.main": 1.0 - likely}}))
    assert plainly.is_out(state, "w1", SECTION, least) is is_out


@pytest.mark.parametrize(
    ("joined_t", "leader", "engine_sure", "is_there"),
    [
        (0.0, "e1", 0.9, True),
        (30.0, "e1", 0.9, False),  # it joined e1 only as it was read: it may go with one that nobody has seen
        (0.0, "e2", 0.9, False),
        (0.0, "e1", 0.59, False),  # where e1 is, is not known
    ],
)
def test_a_train_is_there_with_what_belonged_to_it_before(
    joined_t: float, leader: str, engine_sure: float, is_there: bool
) -> None:
    where = Believed({"w1": {SECTION: 0.9}, "e1": {THROAT: 0.9}}, leads={"w1": leader, "e1": "e1"}, joined={"w1": joined_t})
    where.sure = {"e1": engine_sure}
    assert plainly.is_there(state_of(where), "e1", SECTION, went_t=30.0) is is_there


@pytest.mark.parametrize(
    ("read", "joined_t", "engine_in", "is_there"),
    [
        (("w1", "v1"), 0.0, 0.5, True),  # two of its vehicles were read in: where its engine is need not be known
        (("w1",), 0.0, 0.5, False),
        (("w1",), 0.0, 0.8, False),  # only one, that has joined the train since it began
        (("w1",), -1000.0, 0.8, True),  # only one, of its own, and its engine likely with it
        (("w1",), -1000.0, 0.79, False),
    ],
)
def test_a_train_whose_engine_was_not_read_is_there_with_several_or_with_its_own_and_a_likely_engine(
    read: tuple[str, ...], joined_t: float, engine_in: float, is_there: bool
) -> None:
    at = {"e1": {SECTION: engine_in, THROAT: 1.0 - engine_in}} | {v: {SECTION: 0.99} for v in read}
    leads = dict.fromkeys(("e1", *read), "e1")
    where = Believed(at, by={"e1": "order"}, sure={"e1": 0.5}, leads=leads, joined=dict.fromkeys(read, joined_t))
    assert plainly.is_there(state_of(where), "e1", SECTION, 30.0) is is_there


@pytest.mark.parametrize(("likely", "least", "is_there"), [(0.6, LIKELY, True), (0.6, PLAIN, False), (0.96, PLAIN, True)])
def test_an_engine_that_was_read_going_in_is_its_own_sign(likely: float, least: float, is_there: bool) -> None:
    where = Believed({"e1": {SECTION: likely, THROAT: 1.0 - likely}}, leads={"e1": "e1"}, joined={"e1": 99.0})
    assert plainly.is_there(state_of(where), "e1", SECTION, 30.0, least) is is_there


@pytest.mark.parametrize(
    ("changed", "is_going"),
    [
        ({}, True),
        ({"engine": {THROAT: 0.5, SECTION: 0.45, "ash.loop": 0.05}}, True),
        ({"engine": {"ash.main": 1.0}}, True),  # on the road from which the wagon came
        ({"engine": {"ash.loop": 1.0}}, False),  # at the same station, but not at hand
        ({"engine": {THROAT: 0.94, "ash.loop": 0.06}}, False),
        ({"likely": 0.94}, False),
        ({"by": "order"}, False),
        ({"joined": 30.0}, False),
        ({"on": ("line",)}, False),  # something has occupied it, which tells by itself
    ],
)
def test_a_vehicle_read_going_in_tells_of_an_engine_that_is_at_hand(changed: dict[str, Any], is_going: bool) -> None:
    likely = changed.get("likely", 0.95)
    where = Believed(
        {"w1": {SECTION: likely, "ash.main": 1.0 - likely}, "e1": changed.get("engine", {THROAT: 1.0})},
        joined={"w1": changed.get("joined", 0.0)},
        came={"w1": "ash.main"},
    )
    state = state_of(where, *changed.get("on", ()))
    assert plainly.is_read_going(state, crossed(by=changed.get("by", "seen")), "e1", THROAT) is is_going


@pytest.mark.parametrize(
    ("stood_s", "likely", "by", "has_stood"),
    [
        (NEAR_S, 0.95, "seen", True),
        (NEAR_S - 0.1, 0.95, "seen", False),
        (60.0, 0.94, "seen", False),
        (60.0, 1.0, "order", False),
    ],
)
def test_what_was_read_coming_in_and_has_been_there_for_long_is_there(
    stood_s: float, likely: float, by: str, has_stood: bool
) -> None:
    where = Believed({"w1": {SECTION: likely}}, by={"w1": by}, leads={"w1": "e1"})
    state = state_of(where)
    where.stood = {"w1": state.t - stood_s}
    assert plainly.has_stood(state, "e1", SECTION) is has_stood
    assert not plainly.has_stood(state, "e2", SECTION)


@pytest.mark.parametrize(
    ("in_it", "detectors", "on", "follows"),
    [
        (0.19, ("line", *AT_ASH), (), True),
        (0.21, ("line", *AT_ASH), (), False),
        (0.19, ("line", *AT_BOTH), (), False),  # a reader where it comes out would tell of the rest
        (0.19, ("line", *AT_ASH), ("line",), False),
    ],
)
def test_the_rest_follows_unseen_where_nothing_could_tell(
    in_it: float, detectors: tuple[str, ...], on: tuple[str, ...], follows: bool
) -> None:
    state = state_of(Believed({"e1": {SECTION: in_it, "birch.main": 1.0 - in_it}}), *on, detectors=detectors)
    assert plainly.follows_unseen(state, g1_in(state)) is follows


@pytest.mark.parametrize(
    ("engine_at", "start", "ago_s", "may_be"),
    [
        ({THROAT: 1.0}, THROAT, 10.0, True),
        ({THROAT: 1.0}, THROAT, 10.1, False),
        ({THROAT: 1.0}, "birch.up", 0.0, False),  # that one came in at the other end
        ({SECTION: 1.0}, THROAT, 0.0, False),  # the engine itself was read there
    ],
)
def test_what_goes_in_close_behind_another_may_be_of_its_string(
    engine_at: dict[str, float], start: str, ago_s: float, may_be: bool
) -> None:
    state = state_of(Believed({"e2": engine_at}, leads={"e2": "e2"}))
    g1_in(state, start=start, ago_s=ago_s)
    section = state.railway.plant.sections[SECTION]
    assert plainly.may_be_another(state, state.roster.trains["p2"], section, THROAT, state.t) is may_be


@pytest.mark.parametrize(("went_t", "may_be"), [(20.0, True), (20.1, False), (0.0, True)])
def test_what_tells_of_two_that_go_in_at_one_moment_may_tell_of_one(went_t: float, may_be: bool) -> None:
    """g1 went in at the other end, at 10.0."""
    state = state_of(Believed({"e2": {THROAT: 1.0}}, leads={"e2": "e2"}))
    g1_in(state, start="birch.up", ago_s=20.0)
    section = state.railway.plant.sections[SECTION]
    assert plainly.may_be_another(state, state.roster.trains["p2"], section, THROAT, went_t) is may_be


@pytest.mark.parametrize(
    ("joined_t", "by", "moves", "may_be"),
    [
        (-1.0, "seen", None, False),  # it has gone with e2 from the start
        (-1.0, "order", None, True),
        (0.0, "seen", None, True),
        (5.0, "seen", "p2", False),  # and this p2 moves as it is booked to
        (5.0, "seen", "g1", True),
    ],
)
def test_what_was_read_of_its_own_is_that_train(joined_t: float, by: str, moves: str | None, may_be: bool) -> None:
    where = Believed({"w2": {SECTION: 1.0}}, by={"w2": by}, leads={"w2": "e2"}, joined={"w2": joined_t})
    state = state_of(where, moves="vehicle,from,to,working,call\nw2,ash.dock,birch.dock,p2,\n")
    g1_in(state)
    state.freight.moves[0].state, state.freight.moves[0].train = ("in-train", moves) if moves else ("booked", "p2")
    section = state.railway.plant.sections[SECTION]
    assert plainly.may_be_another(state, state.roster.trains["p2"], section, THROAT, state.t) is may_be


@pytest.mark.parametrize(
    ("change", "may_be"),
    [
        ({}, True),
        ({"phase": Phase.ENDED}, False),
        ({"station": "elsewhere"}, False),
        ({"station": "elsewhere", "section": SECTION}, True),  # on its way to an end of it
    ],
)
def test_what_goes_in_may_be_whoever_holds_authority_and_is_at_hand(change: dict[str, Any], may_be: bool) -> None:
    state = state_of(Believed({"e2": {THROAT: 1.0}}))
    state.authorities.grants[SECTION] = {"r3": Grant("told", 1.0)}
    for name, value in change.items():
        setattr(state.roster.trains["r3"], name, value)
    section, p2 = state.railway.plant.sections[SECTION], state.roster.trains["p2"]
    assert plainly.may_be_another(state, p2, section, THROAT, state.t) is may_be
    state.authorities.grants[SECTION] = {"p2": Grant("told", 1.0)}  # its own is none of another
    assert not plainly.may_be_another(state, p2, section, THROAT, state.t)


@pytest.mark.parametrize(("sure", "is_followed"), [(0.48, True), (0.47, False)])
def test_an_engine_is_followed_where_little_was_let_go(sure: float, is_followed: bool) -> None:
    state = state_of(Believed({"e1": {"ash.main": 0.5, "ash.loop": 0.4}}, sure={"e1": sure}))
    assert plainly.is_followed(state, "e1") is is_followed


@pytest.mark.parametrize(("start", "least"), [("ash.main", LIKELY), (THROAT, LIKELY), ("birch.main", PLAIN), ("off", PLAIN)])
def test_whoever_was_not_at_that_station_has_to_be_in_it_plainly(start: str, least: float) -> None:
    assert plainly.least_for(state_of(Believed({})), crossed(start=start), THROAT) == least


@pytest.mark.parametrize(
    ("by", "read", "trodden_ago_s", "on", "is_witnessed"),
    [
        ("seen", None, None, (), True),
        ("order", None, None, (), False),
        ("carried", None, None, (), False),
        ("order", None, 2.0, (), True),
        ("order", None, 2.1, (), False),
        ("order", None, None, ("line",), True),
        ("order", "e1", None, (), True),
        ("order", "e2", 0.0, ("line",), False),  # what told was another train's
    ],
)
def test_who_is_reckoned_to_have_gone_in_has_to_be_told_of(
    by: str, read: str | None, trodden_ago_s: float | None, on: tuple[str, ...], is_witnessed: bool
) -> None:
    where = Believed({"e1": {SECTION: 1.0}, "w2": {SECTION: 1.0}}, by={"e1": by, "w2": "seen" if read else "order"})
    where.leads, where.stood = {"e1": "e1", "w2": read or "e1"}, {}
    state = state_of(where, *on)
    where.stood = {"w2": state.t}
    if trodden_ago_s is not None:
        state.trodden_at[THROAT] = state.t - trodden_ago_s
    assert plainly.is_witnessed(state, crossed("e1", by, state.t), "e1", THROAT) is is_witnessed


def test_what_was_read_long_before_tells_of_nobody_who_goes_in_now() -> None:
    where = Believed({"w2": {SECTION: 1.0}}, leads={"w2": "e1"})
    state = state_of(where)
    for ago_s, is_witnessed in ((2.0, True), (2.1, False)):
        where.stood = {"w2": state.t - ago_s}
        assert plainly.is_witnessed(state, crossed("e1", "order", state.t), "e1", THROAT) is is_witnessed
