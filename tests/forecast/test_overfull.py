"""Overfull roads: as they stand and after each working's moves, trains left out; worked by hand."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.plan import Call, Move, Railway, Standing, Vehicle, Working
from bridge.core.plant import Plant, Road, RoadKind, Section, SectionRule, Station, Throat
from bridge.forecast.overfull import foretell, from_the_start, in_order, standing_alone


def road(name, length, open_, fouls=()):
    station = name.partition(".")[0]
    return Road(name, station, name.partition(".")[2], RoadKind.SIDING, length, open_, fouls)


ROADS = (
    road("alder.main", 1000, ("up", "down"), ("alder.dock", "alder.mill")),
    road("alder.dock", 300, ("down",), ("alder.main",)),
    road("alder.mill", 300, ("up",), ()),
    road("birch.main", 1000, ("up", "down"), ("birch.coal",)),
    road("birch.coal", 250, ("up",), ("birch.main",)),
)
STATIONS = {name: Station(name, name, tuple(r.id for r in ROADS if r.station == name)) for name in ("alder", "birch")}
THROATS = {f"{s}.{e}": Throat(f"{s}.{e}", s, e) for s in STATIONS for e in ("up", "down")}
LINE = Section("alder-birch", "alder.down", "birch.up", 3000, SectionRule.ONE_TRAIN)
PLANT = Plant("p", "P", 76, 1, STATIONS, {r.id: r for r in ROADS}, THROATS, {LINE.id: LINE}, {}, {})
STOCK = {
    name: Vehicle(name, "engine" if name[0] == "e" else "wagon", 100) for name in ("e1", "e2", "w1", "w2", "w3", "w4", "w5")
}
BACK = {"alder.main": "birch.main", "birch.main": "alder.main"}


def working(name, engine, start, depart_s=None, rake=()):
    roads = (start, BACK[start])
    calls = tuple(Call(n, r.partition(".")[0], r, None, depart_s if n == 0 else None) for n, r in enumerate(roads))
    return Working(name, "goods", engine, calls, rake)


def railway(standing, workings=(), moves=()):
    rows = tuple(
        Standing(vehicle, place, n) for place, vehicles in standing.items() for n, vehicle in enumerate(vehicles.split(), 1)
    )
    booked = tuple(Move(n, *move) for n, move in enumerate(moves))
    return Railway(PLANT, STOCK, rows, {w.id: w for w in workings}, booked)


def test_as_things_stand():
    (over,) = from_the_start(railway({"alder.dock": "w1 w2 w3 w4"}))
    assert (over.road, over.stands_mm, over.length_mm, over.working) == ("alder.dock", 400, 300, None)
    assert over.vehicles == ("w1", "w2", "w3", "w4")


def test_just_full_is_not_overfull():
    assert from_the_start(railway({"alder.dock": "w1 w2 w3"})) == ()


@pytest.mark.parametrize(
    ("place", "fouls"),
    [
        ("alder.dock", ("alder.main", "alder.down")),
        (
            "alder.mill",
            ("alder.up",),
        ),  # a folder may say that it fouls no road: the throat it opens to it obstructs all the same
        ("birch.coal", ("birch.main", "birch.up")),
    ],
)
def test_what_it_fouls(place, fouls):
    assert from_the_start(railway({place: "w1 w2 w3 w4"}))[0].fouls == fouls


def test_a_through_road_overhangs_at_either_end():
    stock = {**STOCK, "w1": replace(STOCK["w1"], length_mm=1001)}
    (over,) = from_the_start(replace(railway({"alder.main": "w1"}), stock=stock))
    assert over.fouls == ("alder.dock", "alder.mill", "alder.up", "alder.down")


def test_a_train_ready_at_its_first_call_does_not_count():
    stock = {**STOCK, "e1": replace(STOCK["e1"], length_mm=900)}
    ready = replace(railway({"alder.main": "e1 w1 w2"}, [working("g1", "e1", "alder.main", 10, ("w1", "w2"))]), stock=stock)
    assert standing_alone(ready) == {}
    assert from_the_start(ready) == ()
    assert [o.road for o in from_the_start(replace(ready, workings={}))] == ["alder.main"]


def test_an_engine_on_another_road_counts_there():
    assert standing_alone(railway({"alder.dock": "e1 w1"}, [working("g1", "e1", "alder.main", 10)])) == {
        "alder.dock": ("e1", "w1")
    }


def test_after_all_moves_of_a_working():
    standing = {"alder.main": "e1 w1 w2", "birch.coal": "w3 w4"}
    g1 = working("g1", "e1", "alder.main", 10, ("w1", "w2"))
    fills = ("w1", "alder.main", "birch.coal", "g1")
    clears = ("w3", "birch.coal", "birch.main", "g1")
    (over,) = from_the_start(railway(standing, [g1], [fills]))
    assert (over.road, over.working, over.vehicles, over.stands_mm) == ("birch.coal", "g1", ("w3", "w4", "w1"), 300)
    assert from_the_start(railway(standing, [g1], [fills, clears])) == ()
    assert from_the_start(railway(standing, [g1], [clears, fills])) == ()


def test_workings_in_the_order_of_their_first_departure():
    standing = {"alder.main": "e1 e2 w1", "birch.coal": "w3 w4"}
    g1, g2 = working("g1", "e1", "alder.main", 20), working("g2", "e2", "birch.main", 10)
    moves = [("w1", "alder.main", "birch.coal", "g1"), ("w3", "birch.coal", "alder.dock", "g2")]
    assert from_the_start(railway(standing, [g1, g2], moves)) == ()
    late = working("g2", "e2", "birch.main", 30)
    assert [(o.road, o.working) for o in from_the_start(railway(standing, [g1, late], moves))] == [("birch.coal", "g1")]


def test_a_vehicle_moved_on_in_the_same_working():
    moves = [("w1", "alder.dock", "birch.coal", "g1"), ("w1", "birch.coal", "birch.main", "g1")]
    assert (
        from_the_start(
            railway(
                {"alder.main": "e1", "alder.dock": "w1", "birch.coal": "w3 w4"},
                [working("g1", "e1", "alder.main", 1)],
                moves,
            )
        )
        == ()
    )


def test_a_move_of_no_working_goes_with_the_first_that_passes_both():
    standing = {"alder.main": "e1", "birch.main": "e2", "alder.dock": "w1", "birch.coal": "w3 w4"}
    up, down = working("p1", "e2", "birch.main", 5), working("g1", "e1", "alder.main", 20)
    (over,) = from_the_start(railway(standing, [up, down], [("w1", "alder.dock", "birch.coal", None)]))
    assert over.working == "g1"
    assert from_the_start(railway(standing, [up], [("w1", "alder.dock", "birch.coal", None)])) == ()


def test_said_once_while_it_lasts_and_again_when_it_comes_again():
    standing = {"alder.main": "e1", "birch.main": "e2", "birch.coal": "w1 w2 w3"}
    g1, g2 = working("g1", "e1", "alder.main", 10), working("g2", "e2", "birch.main", 20)
    g3 = working("g3", "e1", "birch.main", 30)
    moves = [
        ("w1", "birch.coal", "birch.main", "g1"),
        ("w4", "alder.dock", "birch.coal", "g2"),
        ("w5", "alder.dock", "birch.coal", "g3"),
    ]
    overs = from_the_start(railway(standing, [g1, g2, g3], moves))
    assert [(o.road, o.working) for o in overs] == [("birch.coal", None), ("birch.coal", "g2")]


def test_from_where_things_are_now():
    plan = railway({}, [working("g1", "e1", "alder.main", 10)], [("w5", "alder.dock", "birch.coal", "g1")])
    placed = {"birch.coal": ("w1", "w2"), "alder-birch": ("w3",), "birch.up": ("w4",)}
    assert [(o.road, o.working) for o in foretell(plan, placed, plan.moves)] == [("birch.coal", "g1")]
    assert foretell(plan, placed, ()) == ()
    assert placed == {"birch.coal": ("w1", "w2"), "alder-birch": ("w3",), "birch.up": ("w4",)}


def test_without_times_the_file_says_the_order():
    names = [
        working("a", "e1", "alder.main"),
        working("b", "e1", "alder.main", 50),
        working("c", "e1", "alder.main"),
        working("d", "e1", "alder.main", 40),
    ]
    assert [w.id for w in in_order(names)] == ["a", "d", "b", "c"]


@given(st.lists(st.floats(1, 400), min_size=1, max_size=5))
def test_lengths_add_up_without_noise(lengths):
    stock = {f"v{n}": Vehicle(f"v{n}", "wagon", length) for n, length in enumerate(lengths)}
    rows = tuple(Standing(v, "alder.dock", n) for n, v in enumerate(stock, 1))
    overs = from_the_start(Railway(PLANT, stock, rows, {}, ()))
    assert bool(overs) == (sum(lengths) > 300 + 1e-6) or abs(sum(lengths) - 300) < 1e-5
