"""Crews shunt as crews do: what they leave standing where, and by which way, on yards made for one difficulty each."""

from __future__ import annotations

import pytest

from bridge.core.plan import Railway
from bridge.virtual.crew.manner import CAREFUL, FORGETFUL, HASTY, MANNERS, Manner

from .crewed import railway, road, section, siding, station, throat, worked

ASH = station("ash", road("one", 1500), road("two", 1500))
ELM = station("elm", road("one", 1500), road("two", 1500), siding("quay", 700, "up"), siding("yard", 700, "down"))
LINE = (section("ash.down", "mid.up"), section("mid.down", "elm.up"))
TRAIN = {"ash.one": "b1 w3 w2 w1 e1"}
THROUGH = (
    "g1,goods,e1,ash,one,,19:00,w1 w2 w3 b1,",
    "g1,goods,e1,mid,one,19:10,19:30,,",
    "g1,goods,e1,elm,one,19:40,,,",
)
THERE_AND_BACK = (
    *THROUGH[:2],
    "g1,goods,e1,elm,one,19:40,20:00,,",
    "g1,goods,e1,mid,one,20:10,20:30,,",
    "g1,goods,e1,ash,one,20:40,,,",
)


def at_mid(*parts: str, standing: str = "", moves: tuple[str, ...], calls: tuple[str, ...] = THROUGH) -> Railway:
    """A train that passes a station of these parts; `standing`: in its siding "dock"."""
    mid = station("mid", *parts)
    stands = {**TRAIN, **({"mid.dock": standing} if standing else {})}
    return railway([ASH, mid, ELM, *LINE], stands, calls, moves)


LOOPS = (road("one", 1500), road("two", 1500))


@pytest.mark.parametrize("manner", MANNERS, ids=lambda manner: manner.name)
def test_a_trailing_siding_is_worked_without_running_round(manner: Manner) -> None:
    plan = at_mid(
        *LOOPS, siding("dock", 600, "down"), standing="w8 w9", moves=("w2,ash.one,mid.dock,g1,", "w9,mid.dock,elm.yard,g1,")
    )
    evening = worked(plan, manner=manner)
    assert evening.done() == [True, True]
    assert evening.line("mid.dock") == "w8 w2"
    assert evening.drawn_into("mid.two") == set()  # nobody ran round
    assert evening.reasons() == []


def test_a_cut_is_kept_together_and_the_section_is_the_neck() -> None:
    plan = at_mid(*LOOPS, siding("dock", 600, "down"), moves=("w1,ash.one,mid.dock,g1,", "w2,ash.one,mid.dock,g1,"))
    evening = worked(plan)
    assert evening.line("mid.dock") == "w2 w1"
    left = [event["t"] for event in evening.events("set-out", road="mid.dock")]
    assert len(left) == 2
    assert left[0] == left[1]  # both in one movement
    assert "e1" in evening.drawn_into("mid-elm")
    assert len(evening.events("departed", station="mid")) == 1  # a drawing out is no departure


def test_a_facing_siding_is_worked_after_running_round_and_the_engine_leads_again() -> None:
    plan = at_mid(
        *LOOPS, siding("dock", 600, "up"), standing="w8 w9", moves=("w2,ash.one,mid.dock,g1,", "w8,mid.dock,elm.yard,g1,")
    )
    evening = worked(plan)
    assert evening.done() == [True, True]
    assert evening.line("mid.dock") == "w2 w9"
    assert "e1" in evening.drawn_into("mid.two")
    assert evening.line("elm.one").endswith("e1")


@pytest.mark.parametrize("manner", MANNERS, ids=lambda manner: manner.name)
def test_a_buried_wagon_is_dug_out_and_the_rest_put_back(manner: Manner) -> None:
    plan = at_mid(
        *LOOPS,
        siding("dock", 800, "down"),
        standing="w5 w6 w7 w8",
        moves=("w5,mid.dock,elm.quay,g1,", "w1,ash.one,mid.dock,g1,"),
    )
    evening = worked(plan, manner=manner)
    assert evening.done() == [True, True]
    assert evening.line("mid.dock") in ("w6 w7 w8 w1", "w1 w6 w7 w8", "w6 w7 w1 w8")
    assert evening.line("elm.quay") == "w5"


def test_a_neck_too_short_is_used_again_and_again() -> None:
    """Of four wagons only two can be drawn out behind the engine at once: the others wait on the other road meanwhile."""
    mid = station("mid", *LOOPS, siding("dock", 800, "down"), throat("down", length=420))
    calls = (THROUGH[0], "g1,goods,e1,mid,one,19:10,19:30,,", "g1,goods,e1,ash,one,19:40,,,")
    plan = railway(
        [ASH, mid, section("ash.down", "mid.up")], {**TRAIN, "mid.dock": "w5 w6 w7 w8"}, calls, ("w3,ash.one,mid.dock,g1,",)
    )
    evening = worked(plan)
    assert evening.done() == [True]
    assert evening.line("mid.dock") == "w5 w6 w7 w8 w3"
    assert {"w1", "w2"} <= evening.drawn_into("mid.two")
    assert sorted(evening.line("ash.one").split()) == ["b1", "e1", "w1", "w2"]


def test_a_headshunt_is_the_neck() -> None:
    mid = station(
        "mid",
        *LOOPS,
        siding("dock", 800, "down"),
        road("shunt", 900, "down", "headshunt"),
        throat("down", length=250, headshunt="shunt"),
    )
    plan = railway(
        [ASH, mid, section("ash.down", "mid.up")],
        TRAIN,
        (THROUGH[0], "g1,goods,e1,mid,one,19:10,,,"),
        ("w3,ash.one,mid.dock,g1,",),
    )
    evening = worked(plan)
    assert evening.done() == [True]
    assert {"e1", "w1"} <= evening.drawn_into("mid.shunt")


def test_without_a_way_round_a_siding_is_left_for_the_way_home() -> None:
    mid = (road("one", 1500), siding("dock", 600, "up"))
    evening = worked(at_mid(*mid, moves=("w2,ash.one,mid.dock,g1,",), calls=THERE_AND_BACK))
    assert evening.done() == [True]
    (set_out,) = evening.events("set-out", vehicle="w2")
    assert [e["t"] < set_out["t"] for e in evening.events("arrived", station="mid")] == [True, True]


def test_to_a_station_without_a_way_round_the_train_is_propelled_for_a_facing_siding() -> None:
    evening = worked(at_mid(road("one", 1500), siding("dock", 600, "up"), moves=("w2,ash.one,mid.dock,g1,",)))
    assert evening.done() == [True]
    assert "e1" in evening.drawn_into("ash.two")  # where it ran round before leaving


def test_where_no_engine_can_run_round_anywhere_that_is_the_reason() -> None:
    parts = [station(name, road("one", 1500)) for name in ("ash", "elm")]
    mid = station("mid", road("one", 1500), siding("dock", 600, "up"))
    never = worked(railway([*parts, mid, *LINE], TRAIN, THROUGH, ("w2,ash.one,mid.dock,g1,",)))
    assert never.done() == [False]
    assert never.reasons() == [
        "g1 w2: not brought from ash.one to mid.dock: "
        "e1 cannot run round its train on mid.one: no other road is free at both ends"
    ]


def test_a_call_that_is_named_is_the_call() -> None:
    plan = at_mid(*LOOPS, siding("dock", 600, "down"), moves=("w2,ash.one,mid.dock,g1,2",), calls=THERE_AND_BACK)
    evening = worked(plan)
    assert evening.done() == [True]
    (set_out,) = evening.events("set-out", vehicle="w2")
    came = [event["t"] for event in evening.events("arrived", station="mid")]
    assert came[1] < set_out["t"]


def test_what_does_not_fit_stays_in_the_train_and_the_reason_says_how_much() -> None:
    moves = ("w1,ash.one,mid.dock,g1,", "w2,ash.one,mid.dock,g1,", "w3,ash.one,elm.quay,g1,")
    evening = worked(at_mid(*LOOPS, siding("dock", 450, "down"), standing="w6 w7 w8", moves=moves))
    assert evening.done() == [False, True, True]
    assert evening.reasons() == [
        "g1 w1: not brought from ash.one to mid.dock: on mid.dock there is no room for w1: of 450 mm, 400 mm are taken"
    ]
    assert "w1" in evening.line("elm.one")


def test_a_full_siding_is_emptied_first() -> None:
    moves = ("w1,ash.one,mid.dock,g1,", "w7,mid.dock,elm.quay,g1,")
    evening = worked(at_mid(*LOOPS, siding("dock", 300, "down"), standing="w6 w7 w8", moves=moves))
    assert evening.done() == [True, True]
    assert sorted(evening.line("mid.dock").split()) == ["w1", "w6", "w8"]


@pytest.mark.parametrize("manner", [CAREFUL, HASTY, FORGETFUL], ids=lambda manner: manner.name)
def test_moves_within_a_station(manner: Manner) -> None:
    """To a siding at the same end, to one at the other end, and to a road for trains."""
    parts = (*LOOPS, siding("dock", 700, "down"), siding("pit", 500, "down"), siding("barn", 500, "up"))
    moves = ("w7,mid.dock,mid.pit,g1,", "w8,mid.dock,mid.barn,g1,", "w3,ash.one,mid.two,g1,")
    evening = worked(at_mid(*parts, standing="w6 w7 w8", moves=moves), manner=manner)
    assert evening.done() == [True, True, True]
    assert [evening.line(f"mid.{where}") for where in ("dock", "pit", "barn", "two")] == ["w6", "w7", "w8", "w3"]
    assert [event["road"] for event in evening.events("lifted", vehicle="w7")] == ["mid.dock"]


def test_what_is_booked_to_the_trains_own_road_stays_there() -> None:
    evening = worked(at_mid(*LOOPS, moves=("w2,ash.one,mid.one,g1,", "b1,ash.one,elm.one,g1,")))
    assert evening.done() == [True, True]
    assert evening.line("mid.one") == "w2"


def test_rows_of_a_vehicle_are_worked_one_after_another() -> None:
    moves = ("w2,ash.one,mid.dock,g1,1", "w2,mid.dock,ash.two,g1,")
    evening = worked(at_mid(*LOOPS, siding("dock", 600, "down"), moves=moves, calls=THERE_AND_BACK))
    assert evening.done() == [True, True]
    assert evening.line("ash.two") == "w2"


def test_a_terminus_is_left_with_the_engine_in_front_and_the_van_behind() -> None:
    elm = station("elm", road("one", 1500), road("two", 1500), siding("quay", 700, "up"))
    calls = ("g1,goods,e1,ash,one,,19:00,w1 w2 w3 b1,", "g1,goods,e1,elm,one,19:10,19:40,,", "g1,goods,e1,ash,one,19:50,,,")
    moves = ("w2,ash.one,elm.quay,g1,", "w8,elm.quay,ash.two,g1,")
    evening = worked(railway([ASH, elm, section("ash.down", "elm.up")], {**TRAIN, "elm.quay": "w7 w8"}, calls, moves))
    assert evening.done() == [True, True]
    (run,) = evening.events("departed", station="elm")
    came = [
        v for t, v, way, where in evening.truth["movement"] if t > run["t"] - 0.1 and way == "in" and where == "ash.down"
    ]
    assert came[0] == "e1"


def test_to_a_dead_end_the_train_is_propelled_so_that_its_siding_can_be_worked() -> None:
    oak = station("oak", road("one", 1200, "up"), siding("bin", 500, "up"))
    mid = station("mid", *LOOPS, siding("dock", 500, "down"))
    calls = (
        *THROUGH[:2],
        "g1,goods,e1,oak,one,19:40,20:00,,",
        "g1,goods,e1,mid,one,20:10,20:40,,",
        "g1,goods,e1,elm,one,20:50,,,",
    )
    plant = [ASH, mid, ELM, oak, *LINE, section("mid.down", "oak.up")]
    moves = ("w8,oak.bin,mid.dock,g1,", "w2,ash.one,elm.one,g1,")
    evening = worked(railway(plant, {**TRAIN, "oak.bin": "w7 w8"}, calls, moves))
    assert evening.done() == [True, True]
    assert evening.line("mid.dock") == "w8"
