"""Crews between stations: their time, the section and its token, crossings, roads that are taken, plans that cannot be."""

from __future__ import annotations

import pytest

from bridge.core.plan import Railway
from bridge.virtual.crew.manner import CAREFUL, MANNERS, Manner

from .crewed import railway, rest, road, section, siding, station, worked

ASH = station("ash", road("one", 1500), road("two", 1500), siding("pit", 600, "down"))
MID = station("mid", road("one", 1500), road("two", 1500))
ELM = station("elm", road("one", 1500), road("two", 1500), siding("dock", 600, "up"))
TOKEN = "04AABBCCDD"
RESTS = (rest("ash-elm", "ash", 1), rest("ash-elm", "elm", 2))


def two_ways(rule: str, *rests: str, **keys: object) -> Railway:
    """Two trains, one after the other, from Ash to Elm, and the first one back."""
    calls = (
        "g1,goods,e1,ash,one,,19:00,w1,",
        "g1,goods,e1,elm,one,19:10,,,",
        "g2,goods,e2,ash,two,,19:20,w2,",
        "g2,goods,e2,elm,two,19:30,,,",
        "g3,goods,e1,elm,one,,19:40,w1,",
        "g3,goods,e1,ash,one,19:50,,,",
    )
    plant = [ASH, ELM, section("ash.down", "elm.up", rule=rule, **keys), *rests]
    return railway(plant, {"ash.one": "w1 e1", "ash.two": "w2 e2"}, calls)


def clock_of(plan: Railway, seconds: float, begun_s: float) -> float:
    """Minutes after 19:00 by the session clock; these sessions begin at 18:55."""
    return (seconds - begun_s) * plan.plant.clock / 60.0 - 5.0


@pytest.mark.parametrize("manner", MANNERS, ids=lambda manner: manner.name)
def test_nobody_leaves_before_the_time_or_before_the_crossing(manner: Manner) -> None:
    plan = railway(
        [ASH, MID, ELM, section("ash.down", "mid.up"), section("mid.down", "elm.up")],
        {"ash.one": "b1 w1 e1", "elm.one": "e2 w2 b2"},
        (
            "g1,goods,e1,ash,one,,19:00,w1 b1,",
            "g1,goods,e1,mid,one,19:10,19:20,,g2",
            "g1,goods,e1,elm,one,19:30,,,",
            "g2,goods,e2,elm,one,,19:22,w2 b2,",
            "g2,goods,e2,mid,two,19:32,19:34,,g1",
            "g2,goods,e2,ash,one,19:44,,,",
        ),
    )
    evening = worked(plan, manner=manner)
    left = {(e["train"], e["station"]): e["t"] for e in evening.events("departed")}
    came = {(e["train"], e["station"]): e["t"] for e in evening.events("arrived")}
    booked = {(w.id, c.station): c.depart_s for w in plan.workings.values() for c in w.calls if c.depart_s is not None}
    begun_s = evening.evening.begin_s
    assert set(left) == set(booked)
    for key, depart_s in booked.items():
        assert clock_of(plan, left[key], begun_s) >= depart_s / 60.0 - 19 * 60
    assert left["g1", "mid"] > came["g2", "mid"]
    assert evening.line("elm.one") == "b1 w1 e1"
    assert evening.line("ash.one") == "e2 w2 b2"
    assert evening.reasons() == []


def test_one_train_is_in_a_section_at_a_time() -> None:
    evening = worked(two_ways("one-train"))
    inside: set[str] = set()
    for event in evening.truth["events"]:
        if event["says"] == "entered":
            assert inside == set()
            inside.add(event["train"])
        elif event["says"] == "cleared":
            inside.discard(event["train"])
    assert len(evening.events("cleared")) == 3


def test_a_token_is_lifted_and_laid_down_and_carried_back_where_nobody_brings_it() -> None:
    plan = two_ways("token", *RESTS, token_tags=[TOKEN])
    evening = worked(plan)
    inputs = evening.evening.boards["one"].levels
    assert (inputs[1], inputs[2]) == (f"tag={TOKEN}", "off")  # it went to Elm, back by hand, to Elm, and home with g3
    assert len(evening.events("arrived")) == 3
    assert evening.words == ["begin 18:55", "end"]  # the rests tell it all


def test_the_first_of_two_trains_goes_by_ticket_and_the_last_takes_the_staff() -> None:
    evening = worked(two_ways("staff-and-ticket"))
    assert evening.words == [
        "begin 18:55",
        "give ash-elm g1 ticket",
        "give ash-elm g2",
        "return ash-elm g2",
        "give ash-elm g3",
        "return ash-elm g3",
        "end",
    ]


def test_a_token_without_a_rest_is_spoken_of() -> None:
    words = worked(two_ways("token", token_tags=[TOKEN])).words
    assert [w for w in words if "g1" in w] == ["give ash-elm g1", "return ash-elm g1"]


def test_a_shunt_into_a_token_section_has_its_token() -> None:
    """The siding at Ash can only be worked from the section, whose token lies here; it is laid down again after it."""
    calls = ("g1,goods,e1,ash,one,,19:00,w1,", "g1,goods,e1,elm,one,19:20,,,")
    plant = [ASH, ELM, section("ash.down", "elm.up", rule="token", token_tags=[TOKEN]), *RESTS]
    evening = worked(railway(plant, {"ash.one": "w1 e1", "ash.pit": "w6 w7"}, calls, ("w6,ash.pit,elm.one,g1,",)))
    assert evening.done() == [True]
    assert "e1" in evening.drawn_into("ash-elm")
    assert evening.words == ["begin 18:55", "end"]


def test_a_road_taken_by_standing_vehicles_is_not_waited_for() -> None:
    calls = ("g1,goods,e1,ash,one,,19:00,w1,", "g1,goods,e1,elm,one,19:10,,,")
    wagons = " ".join(f"w{n}" for n in range(2, 16))
    plan = railway([ASH, ELM, section("ash.down", "elm.up")], {"ash.one": "w1 e1", "elm.one": wagons}, calls)
    evening = worked(plan)
    assert evening.line("elm.two") == "w1 e1"
    assert evening.reasons() == ["g1: came in on elm.two, for on elm.one w2 stands"]


def test_two_engines_share_a_station() -> None:
    mid = station(
        "mid", *(road(r, 1500) for r in ("one", "two", "three")), siding("dock", 700, "down"), siding("den", 500, "down")
    )
    calls = (
        "g1,goods,e1,ash,one,,19:00,w1 w2 b1,",
        "g1,goods,e1,mid,one,19:10,19:40,,",
        "g1,goods,e1,elm,one,19:50,,,",
        "g2,goods,e2,ash,two,,19:03,w3 w4 b2,",
        "g2,goods,e2,mid,two,19:16,19:50,,",
        "g2,goods,e2,elm,two,20:00,,,",
    )
    moves = ("w2,ash.one,mid.dock,g1,", "w4,ash.two,mid.den,g2,", "w5,mid.dock,elm.dock,g2,", "w3,ash.two,mid.dock,g2,")
    plant = [ASH, mid, ELM, section("ash.down", "mid.up"), section("mid.down", "elm.up")]
    standing = {"ash.one": "b1 w2 w1 e1", "ash.two": "b2 w4 w3 e2", "mid.dock": "w5 w6"}
    evening = worked(railway(plant, standing, calls, moves))
    assert evening.done()[:2] == [True, True]
    assert evening.done()[3]
    assert not evening.done()[2]  # at Elm the other road is taken by the train that came first: nobody runs round
    assert "e2 cannot run round its train on elm.two" in evening.reasons()[0]


def test_the_next_working_of_an_engine_is_made_up() -> None:
    calls = (
        "g1,goods,e1,ash,one,,19:00,w2 w1,",
        "g1,goods,e1,elm,one,19:10,,,",
        "g2,goods,e1,elm,two,,19:40,w9 w8,",
        "g2,goods,e1,ash,one,19:50,,,",
    )
    plan = railway(
        [ASH, ELM, section("ash.down", "elm.up")],
        {"ash.one": "w1 w2 e1", "elm.two": "w8 w9"},
        calls,
        ("w8,elm.two,ash.pit,g2,",),
    )
    evening = worked(plan)
    assert evening.done() == [True]
    assert evening.line("elm.one") == "w1 w2"
    assert sorted(evening.line("ash.one").split()) == ["e1", "w9"]


def test_trains_that_wait_for_each_other_end_with_the_reason() -> None:
    plan = railway(
        [ASH, MID, ELM, section("ash.down", "mid.up"), section("mid.down", "elm.up")],
        {"ash.one": "e1", "elm.one": "e2"},
        (
            "g1,goods,e1,ash,one,,19:00,,g2",
            "g1,goods,e1,mid,one,19:10,,,",
            "g2,goods,e2,elm,one,,19:00,,",
            "g2,goods,e2,mid,two,19:10,19:20,,g1",
            "g2,goods,e2,ash,two,19:40,,,",
        ),
    )
    evening = worked(plan)
    assert evening.reasons() == ["g1: waited in vain: g2 has not come to ash"]
    assert evening.line("ash.two") == "e2"  # the other goes on once the first has given up


def test_two_stations_of_one_road_cannot_change_trains() -> None:
    plan = railway(
        [station("ash", road("one", 1500)), station("elm", road("one", 1500)), section("ash.down", "elm.up")],
        {"ash.one": "e1", "elm.one": "e2"},
        (
            "g1,goods,e1,ash,one,,19:00,,",
            "g1,goods,e1,elm,one,19:10,,,",
            "g2,goods,e2,elm,one,,19:05,,",
            "g2,goods,e2,ash,one,19:15,,,",
        ),
    )
    evening = worked(plan)
    assert len(evening.reasons()) == 2
    assert "g1: waited in vain: elm.one is another train's" in evening.reasons()
    assert evening.evening.finished


def test_what_the_plan_asks_in_vain_is_said_of_each_working_and_move() -> None:
    plan = railway(
        [ASH, ELM, section("ash.down", "elm.up")],
        {"ash.one": "w1 e1", "elm.one": "w3", "elm.two": "e2"},
        (
            "g1,goods,e1,ash,one,,19:00,w1,",
            "g1,goods,e1,elm,two,19:10,,,",
            "g2,goods,e2,ash,two,,19:20,,",
            "g2,goods,e2,elm,two,19:30,,,",
        ),
        ("w3,elm.one,ash.pit,,", "w1,ash.one,elm.dock,g2,"),
    )
    evening = worked(plan, manner=CAREFUL)
    assert evening.done() == [False, False]
    assert (
        "w3: not brought from elm.one to ash.pit: no working calls at both stations, one after the other"
        in evening.reasons()
    )
    assert "g2: e2 stands on elm.two, and g2 begins at ash" in evening.reasons()
    assert "g2 w1: not brought from ash.one to elm.dock: g2 was not worked to the end" in evening.reasons()
    assert {row["working"] for row in evening.truth["reasons"]} >= {None, "g2"}


def test_of_two_sections_side_by_side_a_train_takes_the_one_of_its_direction() -> None:
    up = section("ash.down", "elm.up", directions=["up"]).replace('"ash-elm"', '"ash-elm-up"')
    down = section("ash.down", "elm.up", directions=["down"]).replace('"ash-elm"', '"ash-elm-down"')
    stations = (station("ash", road("road", 1500)), station("elm", road("road", 1500)))
    calls = ("g1,goods,e1,ash,road,,19:10,,", "g1,goods,e1,elm,road,19:15,19:20,,", "g1,goods,e1,ash,road,19:25,,,")
    evening = worked(railway((*stations, up, down), {"ash.road": "e1"}, calls))
    assert [event["section"] for event in evening.events("entered")] == ["ash-elm-down", "ash-elm-up"]
