"""Sidings that face the wrong way and trains that must be run round: by which road, with what room, on which trip easier."""

from __future__ import annotations

import pytest

from .changed import TEXTS, one, said

COAL = 'length = 700\nopen = ["down"]'
WRONG_WAY = ("railway.toml", COAL, 'length = 700\nopen = ["up"]')
"""g1 comes to birch at its up end: its engine is at the down end, and birch.coal opens at the other."""
BACK = "g2,goods,e1,cinder,main,,20:30,b1,\ng2,goods,e1,birch,loop,20:36,20:50,,\ng2,goods,e1,alder,platform,20:56,,,\n"


def of_coal(*changes: tuple[str, str, str], **files: str) -> str:
    """What is said of w1's way into birch.coal."""
    (found,) = (f for f in said(WRONG_WAY, *changes, **files) if (f.file, f.line, f.text) == ("moves.csv", 2, "birch.coal"))
    assert found.level == "advice"
    return found.remedy


def test_who_is_booked_on_the_way_round() -> None:
    assert of_coal() == "It needs a run round: birch.platform must be clear then, and is booked for p1 from 19:24 to 19:30."


def test_on_the_way_back_it_comes_easier() -> None:
    remedy = of_coal(timetable=TEXTS["timetable.csv"] + BACK)
    assert remedy.endswith("It comes easier with g2 (20:36): let g1 carry on to cinder what goes there.")


def test_a_passenger_train_is_no_easier_trip() -> None:
    assert "easier" not in of_coal(timetable=TEXTS["timetable.csv"] + BACK.replace("goods", "passenger"))


def test_nothing_is_handed_to_a_train_that_has_gone() -> None:
    early = "g2,goods,e3,cinder,main,,18:00,,\ng2,goods,e3,birch,loop,18:06,18:10,,\ng2,goods,e3,alder,platform,18:16,,,\n"
    stock = ("stock.csv", "b1,brake", "e3,engine,tank,,150,,,,,,2\nb1,brake")
    stands = ("whereabouts.csv", "c1,cinder.main,2", "c1,cinder.main,2\ne3,cinder.main,3")
    assert "easier" not in of_coal(stock, stands, timetable=TEXTS["timetable.csv"] + early)


E3 = ("stock.csv", "b1,brake", "e3,engine,tank,,150,,,,,,2\nx1,wagon,van,,50,,,,,,2\nb1,brake")


def test_another_train_has_it_on_its_way() -> None:
    """g2 starts where w1 does, goes past birch to cinder and comes back with its engine at the up end."""
    there_and_back = "g2,goods,e3,alder,loop,,20:00,,\ng2,goods,e3,birch,loop,20:06,20:07,,\n"
    there_and_back += "g2,goods,e3,cinder,main,20:12,20:20,,\ng2,goods,e3,birch,loop,20:25,,,\n"
    stands = ("whereabouts.csv", "c1,cinder.main,2", "c1,cinder.main,2\ne3,alder.loop,1")
    remedy = of_coal(E3, stands, timetable=TEXTS["timetable.csv"] + there_and_back)
    assert remedy.endswith(" It comes easier with g2 (20:25), whose engine is at the right end.")


def test_an_earlier_train_fetches_what_is_to_be_lifted() -> None:
    """x1 is booked from birch.coal to cinder; g0 passes birch on its way to alder, where g1 begins."""
    early = "g0,goods,e3,cinder,main,,18:00,,\ng0,goods,e3,birch,loop,18:05,18:10,,\ng0,goods,e3,alder,loop,18:16,,,\n"
    stands = ("whereabouts.csv", "c1,cinder.main,2", "c1,cinder.main,2\ne3,cinder.main,3\nx1,birch.coal,1")
    moves = TEXTS["moves.csv"] + "x1,birch.coal,cinder.hopper,g1,,,\n"
    found = said(WRONG_WAY, E3, stands, moves=moves, timetable=TEXTS["timetable.csv"] + early)
    remedies = [f.remedy.partition(". ")[2] for f in found if f.line == 5 and f.text == "birch.coal"]
    assert remedies == ["It comes easier with g0 (18:05): let it bring to alder what g1 is to have."]


def test_the_same_train_at_its_other_call() -> None:
    """g1 goes on to cinder, comes back with its engine at the up end, and calls at birch again."""
    timetable = TEXTS["timetable.csv"].replace("g1,goods,e1,cinder,main,19:46,,,", "g1,goods,e1,cinder,main,19:46,20:00,,")
    timetable = timetable.replace("p1,passenger,e2,cinder", "g1,goods,e1,birch,loop,20:05,,,\np1,passenger,e2,cinder", 1)
    twice = ("moves.csv", "birch.coal,g1,1,coal", "birch.coal,g1,,coal")
    remedy = of_coal(twice, timetable=timetable)
    assert remedy.endswith("It comes easier at call 2 of g1 there (20:05): write 2 in its `call`.")
    second = ("moves.csv", "birch.coal,g1,1,coal", "birch.coal,g1,2,coal")
    assert not [f for f in said(WRONG_WAY, second, timetable=timetable) if f.text == "birch.coal" and f.line == 2]


def test_a_rake_too_long_to_be_run_round_for_a_siding() -> None:
    short = ("railway.toml", 'kind = "loop"\nlength = 1450', 'kind = "loop"\nlength = 390')
    assert of_coal(short).endswith("no room for it: its rake is 390.5 mm long, and road birch.loop 390 mm.")


TURN = (
    TEXTS["timetable.csv"].replace("alder.loop,19:34,,,", "alder.loop,19:34,19:50,,")
    + "p1,passenger,e2,birch,platform,19:54,,,\n"
)
NECK = 'end = "up"\nlength = 300\nheadshunt = "neck"'


def test_a_train_that_leaves_the_way_it_came() -> None:
    found = one(timetable=TURN)
    assert (found.level, found.file, found.line, found.text) == ("advice", "timetable.csv", 7, "alder.loop")
    assert found.remedy == "It needs a run round: alder.platform must be clear then."


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (("railway.toml", "length = 1300.5", "length = 239"), "its rake is 240 mm long, and road alder.loop 239 mm"),
        (
            ("railway.toml", NECK, 'end = "up"\nlength = 209'),
            "alder.up has 209 mm",
        ),
    ],
    ids=["rake", "neck"],
)
def test_no_room_to_run_round(change: tuple[str, str, str], why: str) -> None:
    """p1 has a coach of 240 mm and an engine of 210; beyond alder.up no section leaves."""
    found = [f for f in said(change, timetable=TURN) if "cannot run round" in f.message]
    assert [(f.level, f.file, f.line, f.text) for f in found] == [("conflict", "timetable.csv", 7, "alder.loop")]
    assert why in found[0].message


@pytest.mark.parametrize(
    "change",
    [
        ("railway.toml", "length = 1300.5", "length = 240"),
        ("railway.toml", NECK, 'end = "up"\nlength = 210'),
        ("railway.toml", 'end = "up"\nlength = 300', 'end = "up"\nlength = 1'),
    ],
    ids=["rake", "neck", "headshunt"],
)
def test_just_room_to_run_round(change: tuple[str, str, str]) -> None:
    assert not [f for f in said(change, timetable=TURN) if "cannot run round" in f.message]
