"""Trains booked onto a road where vehicles stand that no train is working, or another train."""

from __future__ import annotations

from .changed import TEXTS, one, said

STOCK = ("stock.csv", "b1,brake", "x1,wagon,van,,600,,,,,,2\nb1,brake")


def stands(road: str) -> tuple[str, str, str]:
    return ("whereabouts.csv", "c1,cinder.main,2", f"c1,cinder.main,2\nx1,{road},1")


def test_room_for_both_but_no_way_through() -> None:
    """g1 goes on from birch.loop at its down end, where x1 stands."""
    found = one(STOCK, stands("birch.loop"))
    assert (found.level, found.file, found.line, found.text) == ("advice", "timetable.csv", 3, "loop")
    assert found.message == "On birch.loop x1 stands when g1 (19:11) comes, and it goes on at the down end."


def test_no_room_for_both() -> None:
    found = one(STOCK, stands("birch.loop"), ("railway.toml", "length = 1450", "length = 1000"))
    assert (found.level, found.line, found.text) == ("conflict", 3, "loop")
    assert "1170.5 mm where there are 1000 mm" in found.message


def test_at_the_end_of_its_way_it_is_in_nobodys_way() -> None:
    assert said(STOCK, stands("alder.loop")) == []  # p1 ends there, behind x1


def test_what_it_lifts_there_is_not_in_its_way() -> None:
    moves = TEXTS["moves.csv"] + "x1,birch.loop,cinder.hopper,g1,,,\n"
    assert [f for f in said(STOCK, stands("birch.loop"), moves=moves) if f.file == "timetable.csv"] == []


def test_what_an_earlier_train_leaves_there() -> None:
    moves = TEXTS["moves.csv"].replace("w3,alder.dock,birch.coal", "w3,alder.dock,birch.platform")
    found = [f for f in said(moves=moves) if f.file == "timetable.csv"]
    assert [(f.level, f.line, "w3 stands when p1 (19:24)" in f.message) for f in found] == [("advice", 6, True)]


def test_a_crossing_on_one_road_is_no_crossing() -> None:
    """g1 and p1 come to birch.platform from both ends and each goes on past the other."""
    found = one(("timetable.csv", "birch,loop,19:11", "birch,platform,19:11"))
    assert (found.level, found.file, found.line, found.text) == ("conflict", "timetable.csv", 6, "platform")
    assert found.message.endswith("at one time: p1 cannot leave while g1 stands in its way.")


def test_one_that_follows_another_onto_its_road_and_off_it() -> None:
    """g2 comes in behind g1 and goes on after it, by the same end."""
    e3 = ("stock.csv", "b1,brake", "e3,engine,tank,,150,,,,,,2\nb1,brake")
    stand = ("whereabouts.csv", "c1,cinder.main,2", "c1,cinder.main,2\ne3,alder.loop,1")
    rows = "working,kind,engine,station,road,arrive,depart,rake\ng1,goods,e1,alder,platform,,18:05,w1 w2 b1\n"
    rows += "g1,goods,e1,birch,platform,18:11,18:30,\ng1,goods,e1,cinder,hopper,18:36,,\ng2,goods,e3,alder,loop,,18:15,\n"
    rows += "g2,goods,e3,birch,platform,18:21,18:40,\ng2,goods,e3,cinder,main,18:46,,\n"
    found = [f for f in said(e3, stand, timetable=rows) if "g1 and g2" in f.message]
    assert [(f.level, f.line) for f in found] == [("advice", 6)]
    passes = (
        rows.replace("18:21,18:40", "18:21,18:25")
        .replace("18:46", "18:29")
        .replace("18:30", "18:40")
        .replace("18:36", "18:46")
    )
    found = [f for f in said(e3, stand, timetable=passes) if "g1 and g2" in f.message]
    assert [(f.level, f.message.rpartition(": ")[2]) for f in found] == [
        ("conflict", "g2 cannot leave while g1 stands in its way.")
    ]


def test_booked_in_before_the_one_on_its_road_has_left() -> None:
    """p1 ends on alder.platform while g1 still stands there and must go out by the end at which p1 comes in."""
    late = TEXTS["timetable.csv"].replace(",19:05,w1", ",19:50,w1").replace("19:11,19:40:30,,p1", "19:56,20:00,,")
    late = late.replace("main,19:46,", "main,20:06,").replace("19:24,19:30,,g1", "19:24,19:30,,")
    found = one(timetable=late.replace("alder.loop,19:34", "platform,19:34"))
    assert (found.level, found.line) == ("conflict", 7)
    assert "g1 cannot leave while p1 stands in its way" in found.message
    assert said(timetable=late) == []


def test_the_coaches_of_a_later_train_stand_on_its_road() -> None:
    """x1 waits on birch.platform for an engine that comes with another train: it stands there when p1 comes."""
    later = "g2,goods,e1,birch,platform,,21:00,x1,\ng2,goods,e1,alder,platform,21:06,,,\n"
    back = "g3,goods,e1,cinder,main,,20:10,,\ng3,goods,e1,birch,platform,20:16,,,\n"
    found = said(STOCK, stands("birch.platform"), timetable=TEXTS["timetable.csv"] + back + later)
    assert [(f.level, f.line) for f in found if "p1 and g2" in f.message or "g2 and p1" in f.message] == [("conflict", 6)]


E3 = ("stock.csv", "b1,brake", "e3,engine,tank,,150,,,,,,2\nx1,wagon,van,,600,,,,,,2\nb1,brake")


def test_coaches_left_by_one_train_for_another() -> None:
    """p1 leaves c1 on alder.loop and its engine goes away; g3 comes there before p3 has taken c1 on."""
    stand = ("whereabouts.csv", "c1,cinder.main,2", "c1,cinder.main,2\ne3,birch.loop,1")
    later = "p2,passenger,e2,alder,loop,,19:50,,\np2,passenger,e2,birch,platform,19:54,,,\n"
    later += "g3,goods,e3,birch,loop,,20:30,,\ng3,goods,e3,alder,loop,20:36,20:50,,\ng3,goods,e3,birch,loop,20:56,,,\n"
    later += "p3,passenger,e2,birch,platform,,21:00,,\np3,passenger,e2,alder,platform,21:04,,,\n"
    later += "p4,passenger,e2,alder,loop,,21:30,c1,\np4,passenger,e2,birch,platform,21:34,,,\n"
    found = [
        f.message for f in said(E3, stand, timetable=TEXTS["timetable.csv"] + later) if "alder.loop at one" in f.message
    ]
    assert [("g3" in message, "p4" in message) for message in found] == [(True, True)]


def test_a_wagon_set_out_for_a_later_train() -> None:
    """x1 is set out on birch.platform for g4, and p1 comes there in between."""
    stand = ("whereabouts.csv", "w3,alder.dock,1", "w3,alder.dock,1\nx1,alder.dock,2")
    moves = TEXTS["moves.csv"] + "x1,alder.dock,birch.platform,g1,,,\n"
    later = "g3,goods,e1,cinder,main,,20:10,,\ng3,goods,e1,birch,platform,20:16,,,\n"
    later += "g4,goods,e1,birch,platform,,21:00,x1,\ng4,goods,e1,alder,platform,21:06,,,\n"
    found = [f for f in said(E3, stand, moves=moves, timetable=TEXTS["timetable.csv"] + later) if f.line == 6]
    assert any({"p1", "g4"} <= set(f.message.replace(",", "").split()) for f in found)


def test_a_booked_crossing_counts_without_times() -> None:
    """Who waits for whom says that both are there."""
    untimed = "working,kind,engine,station,road,rake,wait_for\ng1,goods,e1,alder,platform,w1 w2 b1,\n"
    untimed += "g1,goods,e1,birch,loop,,p1\ng1,goods,e1,cinder,main,,\np1,passenger,e2,cinder,main,c1,\n"
    untimed += "p1,passenger,e2,birch,platform,,g1\np1,passenger,e2,alder,loop,,\n"
    short = ("railway.toml", "length = 1450", "length = 400")
    assert [(f.level, f.line, f.text) for f in said(short, timetable=untimed)] == [("conflict", 3, "loop")]
    waited_for = untimed.replace(",p1\n", ",\n")
    assert [(f.level, f.line) for f in said(short, timetable=waited_for)] == [("conflict", 3)]
    alone = untimed.replace(",p1\n", ",\n").replace(",g1\n", ",\n")
    assert [(f.level, f.line) for f in said(short, timetable=alone)] == [("advice", 3)]


def test_what_is_lifted_makes_it_too_long_for_a_crossing() -> None:
    moves = TEXTS["moves.csv"] + "x1,birch.coal,cinder.hopper,g1,,,\n"
    found = said(STOCK, stands("birch.coal"), ("railway.toml", "length = 1450", "length = 600"), moves=moves)
    assert [(f.level, f.line, f.text) for f in found if "With what it lifts" in f.message] == [("advice", 3, "loop")]
