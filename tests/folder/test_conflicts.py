"""Plan held against plan and plant: what cannot be worked as written is a conflict at its row, and only that."""

import pytest

from bridge.folder import read

from .changed import TEXTS, conflict, conflicts


def test_the_example_has_none():
    assert conflicts() == []


class TestWhereabouts:
    def test_a_vehicle_stands_twice(self):
        said = conflict(("whereabouts", "c1,cinder.main,2", "c1,cinder.main,2\nc1,cinder.hopper,1"))
        assert (said.file, said.line, said.column, said.text) == ("whereabouts.csv", 9, 1, "c1")
        assert "line 8" in said.message

    def test_two_vehicles_have_one_order(self):
        said = conflict(("whereabouts", "c1,cinder.main,2", "c1,cinder.main,1"))
        assert (said.line, said.column) == (8, 16)

    def test_a_vehicle_stands_in_a_section_that_is_booked(self):
        said = conflict(
            ("moves", "w3,alder.dock,birch.coal,g1,,,leave near the ramp\n", ""),
            ("whereabouts", "w3,alder.dock", "w3,alder-birch"),
        )
        assert (said.file, said.line) == ("whereabouts.csv", 6)

    def test_off_is_no_place_and_no_fault(self):
        all_found = conflicts(
            ("moves", "w3,alder.dock,birch.coal,g1,,,leave near the ramp\n", ""), ("whereabouts", "w3,alder.dock", "w3,off")
        )
        assert all_found == []


class TestRake:
    def test_a_vehicle_of_the_rake_is_elsewhere(self):
        said = conflict(
            ("timetable", "w1 w2 b1", "w1 w2 b1 w3"), ("moves", "w3,alder.dock,birch.coal,g1,,,leave near the ramp\n", "")
        )
        assert (said.file, said.line, said.text) == ("timetable.csv", 2, "w3")
        assert said.column == TEXTS["timetable.csv"].split("\n")[1].index("w1") + 1 + len("w1 w2 b1 ")
        assert "alder.dock" in said.message

    def test_it_stands_in_another_order(self):
        said = conflict(("timetable", "w1 w2 b1", "w2 w1 b1"))
        assert (said.line, said.text) == (2, "w2 w1 b1")

    def test_the_engine_is_at_its_other_end(self):
        assert conflict(("timetable", "w1 w2 b1", "b1 w2 w1")).line == 2

    def test_another_vehicle_stands_between(self):
        moves = ("moves", "w3,alder.dock,birch.coal,g1,,,leave near the ramp\n", "")
        between = ("whereabouts", "w1,alder.platform,3\nw3,alder.dock,1", "w3,alder.platform,3\nw1,alder.platform,4")
        assert (
            conflict(moves, between, ("whereabouts", "e1,alder.platform,4", "e1,alder.platform,5")).file == "timetable.csv"
        )

    def test_a_vehicle_of_the_rake_stands_nowhere(self):
        said = conflict(("whereabouts", "c1,cinder.main,2\n", ""))
        assert (said.line, said.text) == (5, "c1")

    def test_it_is_brought_by_an_earlier_working(self):
        later = "p2,passenger,e2,alder,loop,,20:00,c1,\np2,passenger,e2,birch,platform,20:04,,,\n"
        assert conflicts(timetable=TEXTS["timetable.csv"] + later) == []

    def test_a_vehicle_set_out_is_no_longer_there(self):
        later = "g2,goods,e1,cinder,main,,20:30,b1 w1,\ng2,goods,e1,birch,loop,20:36,,,\n"
        said = conflict(timetable=TEXTS["timetable.csv"] + later)
        assert (said.line, said.text) == (8, "w1")
        assert "birch.coal" in said.message


class TestEngine:
    def test_in_two_places_at_once(self):
        later = "g2,goods,e1,cinder,main,,19:45,b1,\ng2,goods,e1,birch,platform,19:50,,,\n"
        all_found = conflicts(timetable=TEXTS["timetable.csv"] + later)
        said = next(f for f in all_found if "two places" in f.message and "e1" in f.message)
        assert (said.file, said.line, said.text) == ("timetable.csv", 8, "e1")

    def test_two_workings_one_after_the_other(self):
        later = "g2,goods,e1,cinder,main,,19:46,b1,\ng2,goods,e1,birch,platform,19:51,,,\n"
        assert conflicts(timetable=TEXTS["timetable.csv"] + later) == []

    def test_left_elsewhere_by_its_working_before(self):
        later = "g2,goods,e1,birch,platform,,20:30,,\ng2,goods,e1,alder,platform,20:36,,,\n"
        said = conflict(timetable=TEXTS["timetable.csv"] + later)
        assert (said.line, said.text) == (8, "e1")
        assert "cinder.main" in said.message

    def test_stands_nowhere(self):
        assert conflict(("whereabouts", "e2,cinder.main,1\n", "")).text == "e2"

    def test_on_another_road_of_its_station_is_only_advice(self):
        assert conflicts(("whereabouts", "e2,cinder.main,1", "e2,cinder.hopper,1")) == []


class TestMoves:
    def test_from_where_it_is_not(self):
        said = conflict(("moves", "w3,alder.dock", "w3,alder.loop"))
        assert (said.file, said.line, said.column, said.text) == ("moves.csv", 4, 4, "alder.loop")
        assert "alder.dock" in said.message

    def test_the_same_move_twice(self):
        said = conflict(moves=TEXTS["moves.csv"] + "w3,alder.dock,birch.coal,g1,,,\n")
        assert said.line == 5
        assert "line 4" in said.message

    def test_each_from_is_the_last_to(self):
        onward = "w3,birch.coal,cinder.hopper,g1,,,\n"
        assert conflicts(moves=TEXTS["moves.csv"] + onward) == []
        assert conflict(moves=TEXTS["moves.csv"] + onward.replace("birch.coal", "birch.loop")).line == 5

    def test_working_does_not_call_there(self):
        local = "p2,passenger,e2,alder,loop,,20:00,,\np2,passenger,e2,birch,platform,20:04,,,\n"
        said = conflict(
            ("moves", "w3,alder.dock,birch.coal,g1", "w3,alder.dock,cinder.hopper,p2"),
            timetable=TEXTS["timetable.csv"] + local,
        )
        assert (said.line, said.text) == (4, "cinder.hopper")

    def test_working_runs_the_other_way(self):
        said = conflict(("moves", "w3,alder.dock,birch.coal,g1", "w3,alder.dock,birch.coal,p1"))
        assert (said.line, said.text) == (4, "birch.coal")

    def test_any_working_that_passes_both(self):
        assert conflicts(("moves", "w3,alder.dock,birch.coal,g1", "w3,alder.dock,birch.coal,")) == []

    def test_no_working_passes_both(self):
        only_up = "working,kind,engine,station,road,arrive,depart,rake,wait_for\np1,passenger,e2,cinder,main,,19:20,c1,\n"
        moves = "Wagon,from,to\nw3,alder.dock,birch.coal\n"
        assert conflict(timetable=only_up, moves=moves).text == "w3"

    def test_more_calls_than_there_are(self):
        said = conflict(("moves", "g1,1,coal", "g1,2,coal"))
        assert (said.line, said.text) == (2, "2")

    def test_a_wagon_needed_before_it_comes(self):
        early = "g0,goods,e2,birch,loop,,19:08,,\ng0,goods,e2,cinder,main,19:09,,,\n"
        moves = TEXTS["moves.csv"] + "w3,birch.coal,cinder.hopper,g0,,,\n"
        assert any("w3" in f.message for f in conflicts(timetable=TEXTS["timetable.csv"] + early, moves=moves))

    def test_brought_by_a_working_that_begins_later(self):
        """g2 begins before g1, and comes to birch only when g1 has set w1 out there: calls count, not workings."""
        stock = ("stock", "b1,brake", "e3,engine,tank,,150,,,,,,2\nb1,brake")
        stands = ("whereabouts", "w3,alder.dock,1", "w3,alder.dock,1\ne3,alder.loop,1")
        slow = "g2,goods,e3,alder,loop,,18:30,,\ng2,goods,e3,birch,platform,20:00,20:10,,\n"
        slow += "g2,goods,e3,cinder,main,20:16,,,\n"
        moves = TEXTS["moves.csv"] + "w1,birch.coal,cinder.hopper,g2,,,\n"
        late = conflicts(stock, stands, timetable=TEXTS["timetable.csv"] + slow, moves=moves)
        assert [f for f in late if f.file == "moves.csv"] == []
        sooner = slow.replace("20:00,20:10", "18:40,18:50").replace("20:16", "18:56")
        early = conflicts(stock, stands, timetable=TEXTS["timetable.csv"] + sooner, moves=moves)
        (said,) = (f for f in early if f.file == "moves.csv")
        assert (said.line, said.text) == (5, "birch.coal")
        assert "alder.platform" in said.message

    def test_exchanged_while_both_trains_are_there(self):
        """p1 leaves birch while g1 still stands there, and each takes what the other has brought."""
        moves = TEXTS["moves.csv"] + "w1,birch.coal,alder.dock,p1,,,\n"
        assert conflicts(moves=moves) == []

    def test_lifted_by_two_trains(self):
        untimed = "working,kind,engine,station,road,rake,wait_for\ng1,goods,e1,alder,platform,w1 w2 b1,\n"
        untimed += "g1,goods,e1,birch,loop,,p1\ng1,goods,e1,cinder,main,,\np1,passenger,e2,alder,loop,,\n"
        untimed += "p1,passenger,e2,birch,platform,,\n"
        stands = ("whereabouts", "e2,cinder.main,1\nc1,cinder.main,2", "e2,alder.loop,1\nc1,cinder.main,1")
        moves = "Wagon,from,to,working\nw3,alder.dock,cinder.hopper,g1\nw3,alder.dock,birch.coal,p1\n"
        said = conflict(stands, timetable=untimed, moves=moves)
        assert (said.line, said.text) == (3, "alder.dock")
        assert "in the train of working g1" in said.message


class TestRoom:
    def test_overfull_as_it_stands(self):
        said = conflict(("stock", "hopper,Q 13,96", "hopper,Q 13,560"), ("railway", "length = 700", "length = 900"))
        assert (said.file, said.line, said.text) == ("whereabouts.csv", 6, "w3")
        assert "alder.platform, alder.down" in said.message

    def test_overfull_by_the_moves(self):
        said = conflict(("railway", "length = 700", "length = 195"))
        assert (said.file, said.line, said.text) == ("moves.csv", 4, "birch.coal")
        assert "196 mm" in said.message

    def test_just_full_is_not_overfull(self):
        assert conflicts(("railway", "length = 700", "length = 196")) == []

    def test_a_train_too_long_for_the_loop_where_it_meets_another(self):
        said = conflict(("railway", "length = 1450", "length = 400"))
        assert (said.file, said.line, said.text) == ("timetable.csv", 3, "loop")
        assert "p1" in said.message

    def test_two_trains_on_one_road_too_short_for_both(self):
        said = conflict(
            ("timetable", "birch,loop,19:11", "birch,platform,19:11"), ("railway", "length = 1500", "length = 900")
        )
        assert (said.line, said.text) == (6, "platform")


def test_a_row_with_a_fault_brings_no_conflict_with_it():
    texts = {name: text.encode() for name, text in TEXTS.items()}
    texts["moves.csv"] += b"w3,birch.cool,cinder.hopper,g1,,,\nw3,cinder.hopper,birch.coal,p1,,,\n"
    texts["timetable.csv"] = texts["timetable.csv"].replace(b"p1,passenger,e2,birch", b"p1,passenger,e2,birk")
    result = read(texts)
    assert [(f.file, f.line) for f in result.findings if f.level == "fault"] == [("timetable.csv", 6), ("moves.csv", 5)]
    assert [f for f in result.findings if f.level == "conflict"] == []


@pytest.mark.parametrize("gone", ["stock", "whereabouts", "timetable", "moves"])
@pytest.mark.parametrize("how", ["missing", "empty", "blank"])
def test_a_file_that_is_not_there(gone, how):
    texts = {name: text.encode() for name, text in TEXTS.items()}
    if how == "missing":
        del texts[f"{gone}.csv"]
    else:
        texts[f"{gone}.csv"] = b"" if how == "empty" else b"\xef\xbb\xbf\r\n ,;\r\n"
    result = read(texts)
    said = [f for f in result.findings if f.file == f"{gone}.csv"]
    assert len(said) == 1
    assert said[0].level == ("fault" if gone in ("stock", "timetable") else "advice")
    assert [f for f in result.findings if f.level != "advice" and f.file != f"{gone}.csv"] == []
