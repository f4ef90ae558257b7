"""Wagons behind others: how many must be drawn out first, and nothing where the plan does not prove it."""

from __future__ import annotations

import re
from random import Random

import pytest

from .changed import TEXTS, one, said

MORE = "".join(f"x{n},wagon,van,,50,,,,,,2\n" for n in range(1, 4))
STOCK = ("stock.csv", "b1,brake", MORE + "b1,brake")
DOCK = "w3,alder.dock,1"
"""alder.dock opens at its down end: what has the highest order is nearest to it."""


def stand(*orders: str) -> tuple[str, str, str]:
    return ("whereabouts.csv", DOCK, "\n".join(f"{vehicle},alder.dock,{n}" for n, vehicle in enumerate(orders, 1)))


def test_behind_two() -> None:
    found = one(STOCK, stand("w3", "x1", "x2"))
    assert (found.level, found.file, found.line, found.text) == ("advice", "moves.csv", 4, "w3")
    assert found.message == "x1, x2 stand before w3 on alder.dock when g1 (19:05) lifts it."
    assert found.remedy.startswith("These 2 have to be drawn out first")


def test_nearest_the_mouth() -> None:
    assert said(STOCK, stand("x1", "x2", "w3")) == []


def test_one_in_front_and_one_behind() -> None:
    found = one(STOCK, stand("x1", "w3", "x2"))
    assert found.message.startswith("x2 stands before w3")
    assert found.remedy.startswith("That one")


def test_what_is_lifted_too_is_in_nobodys_way() -> None:
    moves = TEXTS["moves.csv"] + "x2,alder.dock,birch.coal,g1,,,\n"
    assert one(STOCK, stand("w3", "x1", "x2"), moves=moves).message.startswith("x1 stands before w3")
    assert said(STOCK, stand("w3", "x2"), moves=moves) == []


def test_what_an_earlier_train_has_lifted_is_gone() -> None:
    early = "g0,goods,e3,alder,loop,,18:00,,\ng0,goods,e3,birch,platform,18:06,,,\n"
    moves = TEXTS["moves.csv"] + "x1,alder.dock,birch.coal,g0,,,\n"
    stock = ("stock.csv", "b1,brake", MORE + "e3,engine,tank,,150,,,,,,2\nb1,brake")
    stands = ("whereabouts.csv", DOCK, "w3,alder.dock,1\nx1,alder.dock,2\ne3,alder.loop,1")
    assert not [
        f for f in said(stock, stands, moves=moves, timetable=TEXTS["timetable.csv"] + early) if "before w3" in f.message
    ]


def test_what_is_pushed_in_by_an_earlier_train_stands_in_front() -> None:
    early = "g0,goods,e3,birch,platform,,18:00,,\ng0,goods,e3,alder,loop,18:06,,,\n"
    moves = TEXTS["moves.csv"] + "x1,birch.coal,alder.dock,g0,,,\nx2,birch.coal,alder.dock,g0,,,\n"
    stock = ("stock.csv", "b1,brake", MORE + "e3,engine,tank,,150,,,,,,2\nb1,brake")
    stands = ("whereabouts.csv", DOCK, "w3,alder.dock,1\nx1,birch.coal,1\nx2,birch.coal,2\ne3,birch.platform,1")
    found = said(stock, stands, moves=moves, timetable=TEXTS["timetable.csv"] + early)
    assert [f.message.split(" on ")[0] for f in found if "before" in f.message] == ["x1, x2 stand before w3"]


def test_what_is_pushed_into_a_road_open_at_its_up_end_stands_at_that_end() -> None:
    later = "g2,goods,e1,cinder,main,,20:30,,\ng2,goods,e1,birch,platform,20:36,,,\n"
    moves = TEXTS["moves.csv"] + "x1,cinder.hopper,birch.coal,g2,,,\n"
    stands = ("whereabouts.csv", DOCK, "w3,alder.dock,1\nx2,cinder.hopper,1\nx1,cinder.hopper,2")
    found = [f.message for f in said(STOCK, stands, moves=moves, timetable=TEXTS["timetable.csv"] + later)]
    assert [message.split(" on ")[0] for message in found if "before" in message] == ["w2, x2 stand before x1"]


def test_what_comes_with_the_train_itself_is_not_yet_in() -> None:
    """g1 sets w1 out in birch.coal, and lifts x1 from there first."""
    moves = TEXTS["moves.csv"] + "x1,birch.coal,cinder.hopper,g1,,,\n"
    stands = ("whereabouts.csv", DOCK, "w3,alder.dock,1\nx1,birch.coal,1")
    assert [f for f in said(STOCK, stands, moves=moves) if "before" in f.message] == []


def test_at_which_end_of_an_open_road_something_was_left_is_nobodys_knowledge() -> None:
    both = ("railway.toml", 'length = 640\nopen = ["up"]', 'length = 640\nopen = ["up", "down"]')
    later = "g2,goods,e1,cinder,main,,20:30,,\ng2,goods,e1,birch,platform,20:36,,,\n"
    moves = TEXTS["moves.csv"] + "x1,cinder.hopper,birch.coal,g2,,,\n"
    stands = ("whereabouts.csv", DOCK, "w3,alder.dock,1\nx2,cinder.hopper,1\nx1,cinder.hopper,2\nx3,cinder.hopper,3")
    found = said(STOCK, both, stands, moves=moves, timetable=TEXTS["timetable.csv"] + later)
    assert [f for f in found if "before" in f.message] == []


def test_the_order_within_a_cut_is_nobodys_knowledge() -> None:
    """Of two set out at one call nobody can say which was pushed in first."""
    onward = "g2,goods,e2,birch,platform,,20:30,,\ng2,goods,e2,cinder,main,20:35,,,\n"
    timetable = TEXTS["timetable.csv"].replace("p1,passenger,e2,alder,alder.loop,19:34,,,\n", "") + onward
    moves = TEXTS["moves.csv"] + "w1,birch.coal,cinder.hopper,g2,,,\n"
    assert not [f for f in said(moves=moves, timetable=timetable) if "before" in f.message]


@pytest.mark.parametrize(("orders", "front"), [(("x1", "w3", "x2", "x3"), "x1 stands"), (("w3", "x1", "x2"), None)])
def test_a_road_open_at_both_ends_is_worked_from_the_easier(orders: tuple[str, ...], front: str | None) -> None:
    both = ("railway.toml", 'length = 520\nopen = ["down"]', 'length = 520\nopen = ["up", "down"]')
    found = [f.message for f in said(STOCK, both, stand(*orders)) if "before w3" in f.message]
    assert [message.split(" before")[0] for message in found] == ([front] if front else [])


def test_random_rows_against_a_list() -> None:
    """A dead end is a list of which only the last can be taken: what stands behind w3 in it, less what goes too."""
    chance = Random(3)
    for _ in range(40):
        orders = chance.sample(["w3", "x1", "x2", "x3"], chance.randint(1, 4))
        orders = orders if "w3" in orders else [*orders, "w3"]
        lifted = [v for v in orders if v != "w3" and chance.random() < 0.4]
        moves = TEXTS["moves.csv"] + "".join(f"{v},alder.dock,birch.coal,g1,,,\n" for v in lifted)
        siding, out = list(orders), []
        while siding[-1] != "w3":
            out.append(siding.pop())
        told = [f.message for f in said(STOCK, stand(*orders), moves=moves) if " before w3 " in f.message]
        names = set(re.findall(r"x\d", told[0])) if told else set()
        assert names == set(out) - set(lifted), (orders, lifted)
