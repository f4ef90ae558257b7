"""Plan held against plan and plant: what cannot be worked as written is a conflict at its row, and only that."""

from pathlib import Path

import pytest

from bridge.folder import read

EXAMPLE = Path(__file__).parent / "example"
TEXTS = {path.name: path.read_text(encoding="utf-8") for path in sorted(EXAMPLE.iterdir())}


def found(*changes, **files):
    """Findings but advice, after (file, old, new) replacements; `file` without ending."""
    texts = dict(TEXTS)
    for file, old, new in changes:
        name = "railway.toml" if file == "railway" else f"{file}.csv"
        assert texts[name].count(old) == 1, f"{old!r} must stand once in {name}"
        texts[name] = texts[name].replace(old, new)
    texts.update({f"{name}.csv": text for name, text in files.items()})
    result = read({name: text.encode() for name, text in texts.items()})
    assert not any(f.level == "fault" for f in result.findings), result.findings
    assert result.railway is not None
    return [f for f in result.findings if f.level == "conflict"]


def one(*changes, **files):
    conflicts = found(*changes, **files)
    assert len(conflicts) == 1, conflicts
    return conflicts[0]


def test_the_example_has_none():
    assert found() == []


class TestWhereabouts:
    def test_a_vehicle_stands_twice(self):
        said = one(("whereabouts", "c1,cinder.main,2", "c1,cinder.main,2\nc1,cinder.hopper,1"))
        assert (said.file, said.line, said.column, said.text) == ("whereabouts.csv", 9, 1, "c1")
        assert "line 8" in said.message

    def test_two_vehicles_have_one_order(self):
        said = one(("whereabouts", "c1,cinder.main,2", "c1,cinder.main,1"))
        assert (said.line, said.column) == (8, 16)

    def test_a_vehicle_stands_in_a_section_that_is_booked(self):
        said = one(
            ("moves", "w3,alder.dock,birch.coal,g1,,,leave near the ramp\n", ""),
            ("whereabouts", "w3,alder.dock", "w3,alder-birch"),
        )
        assert (said.file, said.line) == ("whereabouts.csv", 6)

    def test_off_is_no_place_and_no_fault(self):
        conflicts = found(
            ("moves", "w3,alder.dock,birch.coal,g1,,,leave near the ramp\n", ""), ("whereabouts", "w3,alder.dock", "w3,off")
        )
        assert conflicts == []


class TestRake:
    def test_a_vehicle_of_the_rake_is_elsewhere(self):
        said = one(
            ("timetable", "w1 w2 b1", "w1 w2 b1 w3"), ("moves", "w3,alder.dock,birch.coal,g1,,,leave near the ramp\n", "")
        )
        assert (said.file, said.line, said.text) == ("timetable.csv", 2, "w3")
        assert said.column == TEXTS["timetable.csv"].split("\n")[1].index("w1") + 1 + len("w1 w2 b1 ")
        assert "alder.dock" in said.message

    def test_it_stands_in_another_order(self):
        said = one(("timetable", "w1 w2 b1", "w2 w1 b1"))
        assert (said.line, said.text) == (2, "w2 w1 b1")

    def test_the_engine_is_at_its_other_end(self):
        assert one(("timetable", "w1 w2 b1", "b1 w2 w1")).line == 2

    def test_another_vehicle_stands_between(self):
        moves = ("moves", "w3,alder.dock,birch.coal,g1,,,leave near the ramp\n", "")
        between = ("whereabouts", "w1,alder.platform,3\nw3,alder.dock,1", "w3,alder.platform,3\nw1,alder.platform,4")
        assert one(moves, between, ("whereabouts", "e1,alder.platform,4", "e1,alder.platform,5")).file == "timetable.csv"

    def test_a_vehicle_of_the_rake_stands_nowhere(self):
        said = one(("whereabouts", "c1,cinder.main,2\n", ""))
        assert (said.line, said.text) == (5, "c1")

    def test_it_is_brought_by_an_earlier_working(self):
        later = "p2,passenger,e2,alder,loop,,20:00,c1,\np2,passenger,e2,birch,platform,20:04,,,\n"
        assert found(timetable=TEXTS["timetable.csv"] + later) == []

    def test_a_vehicle_set_out_is_no_longer_there(self):
        later = "g2,goods,e1,cinder,main,,20:30,b1 w1,\ng2,goods,e1,birch,loop,20:36,,,\n"
        said = one(timetable=TEXTS["timetable.csv"] + later)
        assert (said.line, said.text) == (8, "w1")
        assert "birch.coal" in said.message


class TestEngine:
    def test_in_two_places_at_once(self):
        later = "g2,goods,e1,cinder,main,,19:45,b1,\ng2,goods,e1,birch,platform,19:50,,,\n"
        conflicts = found(timetable=TEXTS["timetable.csv"] + later)
        said = next(f for f in conflicts if "two places" in f.message and "e1" in f.message)
        assert (said.file, said.line, said.text) == ("timetable.csv", 8, "e1")

    def test_two_workings_one_after_the_other(self):
        later = "g2,goods,e1,cinder,main,,19:46,b1,\ng2,goods,e1,birch,platform,19:51,,,\n"
        assert found(timetable=TEXTS["timetable.csv"] + later) == []

    def test_left_elsewhere_by_its_working_before(self):
        later = "g2,goods,e1,birch,platform,,20:30,,\ng2,goods,e1,alder,platform,20:36,,,\n"
        said = one(timetable=TEXTS["timetable.csv"] + later)
        assert (said.line, said.text) == (8, "e1")
        assert "cinder.main" in said.message

    def test_stands_nowhere(self):
        assert one(("whereabouts", "e2,cinder.main,1\n", "")).text == "e2"

    def test_on_another_road_of_its_station_is_only_advice(self):
        assert found(("whereabouts", "e2,cinder.main,1", "e2,cinder.hopper,1")) == []


class TestMoves:
    def test_from_where_it_is_not(self):
        said = one(("moves", "w3,alder.dock", "w3,alder.loop"))
        assert (said.file, said.line, said.column, said.text) == ("moves.csv", 4, 4, "alder.loop")
        assert "alder.dock" in said.message

    def test_the_same_move_twice(self):
        said = one(moves=TEXTS["moves.csv"] + "w3,alder.dock,birch.coal,g1,,,\n")
        assert said.line == 5
        assert "line 4" in said.message

    def test_each_from_is_the_last_to(self):
        onward = "w3,birch.coal,cinder.hopper,g1,,,\n"
        assert found(moves=TEXTS["moves.csv"] + onward) == []
        assert one(moves=TEXTS["moves.csv"] + onward.replace("birch.coal", "birch.loop")).line == 5

    def test_working_does_not_call_there(self):
        local = "p2,passenger,e2,alder,loop,,20:00,,\np2,passenger,e2,birch,platform,20:04,,,\n"
        said = one(
            ("moves", "w3,alder.dock,birch.coal,g1", "w3,alder.dock,cinder.hopper,p2"),
            timetable=TEXTS["timetable.csv"] + local,
        )
        assert (said.line, said.text) == (4, "cinder.hopper")

    def test_working_runs_the_other_way(self):
        said = one(("moves", "w3,alder.dock,birch.coal,g1", "w3,alder.dock,birch.coal,p1"))
        assert (said.line, said.text) == (4, "birch.coal")

    def test_any_working_that_passes_both(self):
        assert found(("moves", "w3,alder.dock,birch.coal,g1", "w3,alder.dock,birch.coal,")) == []

    def test_no_working_passes_both(self):
        only_up = "working,kind,engine,station,road,arrive,depart,rake,wait_for\np1,passenger,e2,cinder,main,,19:20,c1,\n"
        moves = "Wagon,from,to\nw3,alder.dock,birch.coal\n"
        assert one(timetable=only_up, moves=moves).text == "w3"

    def test_more_calls_than_there_are(self):
        said = one(("moves", "g1,1,coal", "g1,2,coal"))
        assert (said.line, said.text) == (2, "2")

    def test_a_wagon_needed_before_it_comes(self):
        early = "g0,goods,e2,birch,loop,,19:08,,\ng0,goods,e2,cinder,main,19:09,,,\n"
        moves = TEXTS["moves.csv"] + "w3,birch.coal,cinder.hopper,g0,,,\n"
        assert any("w3" in f.message for f in found(timetable=TEXTS["timetable.csv"] + early, moves=moves))

    def test_brought_by_a_working_that_begins_later(self):
        """g2 begins before g1, and comes to birch only when g1 has set w1 out there: calls count, not workings."""
        stock = ("stock", "b1,brake", "e3,engine,tank,,150,,,,,,2\nb1,brake")
        stands = ("whereabouts", "w3,alder.dock,1", "w3,alder.dock,1\ne3,alder.loop,1")
        slow = "g2,goods,e3,alder,loop,,18:30,,\ng2,goods,e3,birch,platform,20:00,20:10,,\n"
        slow += "g2,goods,e3,cinder,main,20:16,,,\n"
        moves = TEXTS["moves.csv"] + "w1,birch.coal,cinder.hopper,g2,,,\n"
        late = found(stock, stands, timetable=TEXTS["timetable.csv"] + slow, moves=moves)
        assert [f for f in late if f.file == "moves.csv"] == []
        sooner = slow.replace("20:00,20:10", "18:40,18:50").replace("20:16", "18:56")
        early = found(stock, stands, timetable=TEXTS["timetable.csv"] + sooner, moves=moves)
        (said,) = (f for f in early if f.file == "moves.csv")
        assert (said.line, said.text) == (5, "birch.coal")
        assert "alder.platform" in said.message

    def test_exchanged_while_both_trains_are_there(self):
        """p1 leaves birch while g1 still stands there, and each takes what the other has brought."""
        moves = TEXTS["moves.csv"] + "w1,birch.coal,alder.dock,p1,,,\n"
        assert found(moves=moves) == []

    def test_lifted_by_two_trains(self):
        untimed = "working,kind,engine,station,road,rake,wait_for\ng1,goods,e1,alder,platform,w1 w2 b1,\n"
        untimed += "g1,goods,e1,birch,loop,,p1\ng1,goods,e1,cinder,main,,\np1,passenger,e2,alder,loop,,\n"
        untimed += "p1,passenger,e2,birch,platform,,\n"
        stands = ("whereabouts", "e2,cinder.main,1\nc1,cinder.main,2", "e2,alder.loop,1\nc1,cinder.main,1")
        moves = "Wagon,from,to,working\nw3,alder.dock,cinder.hopper,g1\nw3,alder.dock,birch.coal,p1\n"
        said = one(stands, timetable=untimed, moves=moves)
        assert (said.line, said.text) == (3, "alder.dock")
        assert "in the train of working g1" in said.message


class TestSections:
    def test_two_trains_in_one(self):
        said = one(("timetable", "19:40:30,,p1", "19:21,,"))
        assert (said.file, said.line, said.text) == ("timetable.csv", 3, "19:21")
        assert "birch-cinder" in said.message
        assert "19:24" in said.remedy

    def test_touching_at_an_instant_is_none(self):
        assert found(("timetable", "19:40:30,,p1", "19:24,,")) == []

    def test_booked_running_stands_for_a_time_not_given(self):
        assert (
            "birch-cinder"
            in one(("timetable", "19:40:30,,p1", "19:21,,"), ("timetable", "platform,19:24,", "platform,,")).message
        )

    def test_without_times_the_order_alone_is_booked(self):
        untimed = "working,kind,engine,station,road,rake\ng1,goods,e1,alder,platform,w1 w2 b1\ng1,goods,e1,birch,loop,\n"
        untimed += "g1,goods,e1,cinder,main,\np1,passenger,e2,cinder,main,c1\np1,passenger,e2,birch,platform,\n"
        assert found(timetable=untimed) == []

    def test_closed_direction(self):
        conflicts = found(
            ("railway", 'rule = "token"\ndirections = ["up", "down"]', 'rule = "token"\ndirections = ["down"]')
        )
        assert [f.line for f in conflicts] == [7]

    def test_calls_not_joined(self):
        said = one(("timetable", "p1,passenger,e2,birch,platform,19:24,19:30,,g1\n", ""), ("timetable", ",p1\n", ",\n"))
        assert (said.line, said.text) == (5 + 1, "alder")
        assert "birch" in said.remedy

    def test_road_not_open_to_the_section(self):
        said = found(("timetable", "birch,loop,19:11", "birch,coal,19:11"))[0]
        assert (said.line, said.text) == (3, "coal")

    def test_road_that_does_not_reach_the_section(self):
        said = one(("railway", 'kind = "loop"\nlength = 1450', 'kind = "loop"\nreaches = ["birch-cinder"]\nlength = 1450'))
        assert (said.line, said.text) == (3, "loop")
        assert "alder-birch" in said.message


class TestTimes:
    def test_a_call_before_the_one_before(self):
        said = one(("timetable", "alder.loop,19:34", "alder.loop,19:25"))
        assert (said.line, said.text) == (7, "19:25")

    def test_past_midnight_times_go_on(self):
        night = "working,kind,engine,station,road,arrive,depart\np1,passenger,e2,cinder,main,,23:58\n"
        night += "p1,passenger,e2,birch,platform,00:02,00:03\np1,passenger,e2,alder,loop,00:07,\n"
        moves = ("moves", TEXTS["moves.csv"].partition("\n")[2], "")
        conflicts = found(moves, timetable=night)
        assert [f.text for f in conflicts] == ["00:02"]
        assert "24:02" in conflicts[0].remedy
        assert found(moves, timetable=night.replace(",00:0", ",24:0")) == []

    def test_waits_for_one_that_comes_later(self):
        said = found(("timetable", "19:40:30,,p1", "19:23:00,,p1"))[-1]
        assert (said.line, said.text) == (3, "p1")
        assert "19:24" in said.message

    def test_waits_for_one_that_never_calls_there(self):
        waits = TEXTS["timetable.csv"].replace(",19:20,c1,", ",19:20,c1,x2") + "x2,goods,e1,birch,loop,20:10,,,\n"
        assert any("never calls there" in f.message and (f.line, f.text) == (5, "x2") for f in found(timetable=waits))

    def test_waiting_in_a_circle(self):
        untimed = "working,kind,engine,station,road,rake,wait_for\n"
        untimed += "g1,goods,e1,alder,platform,w1 w2 b1,p1\ng1,goods,e1,birch,loop,,\n"
        untimed += "g1,goods,e1,cinder,main,,\np1,passenger,e2,cinder,main,c1,\np1,passenger,e2,birch,platform,,g1\n"
        untimed += "p1,passenger,e2,alder,loop,,\n"
        said = one(timetable=untimed)
        assert "circle" in said.message
        assert said.line in (2, 6)

    def test_waiting_for_a_train_whose_engine_is_needed_first(self):
        """g1 waits for g2, which its own engine is to work after it."""
        untimed = "working,kind,engine,station,road,rake,wait_for\ng1,goods,e1,alder,platform,w1 w2 b1,\n"
        untimed += "g1,goods,e1,birch,loop,,g2\ng1,goods,e1,cinder,main,,\ng2,goods,e1,cinder,main,,\n"
        untimed += "g2,goods,e1,birch,platform,,\n"
        said = one(timetable=untimed)
        assert (said.line, said.text) == (3, "g2")
        assert "g1, g2 wait for each other in a circle" in said.message


class TestRoom:
    def test_overfull_as_it_stands(self):
        said = one(("stock", "hopper,Q 13,96", "hopper,Q 13,560"), ("railway", "length = 700", "length = 900"))
        assert (said.file, said.line, said.text) == ("whereabouts.csv", 6, "w3")
        assert "alder.platform, alder.down" in said.message

    def test_overfull_by_the_moves(self):
        said = one(("railway", "length = 700", "length = 195"))
        assert (said.file, said.line, said.text) == ("moves.csv", 4, "birch.coal")
        assert "196 mm" in said.message

    def test_just_full_is_not_overfull(self):
        assert found(("railway", "length = 700", "length = 196")) == []

    def test_a_train_too_long_for_the_loop_where_it_meets_another(self):
        said = one(("railway", "length = 1450", "length = 400"))
        assert (said.file, said.line, said.text) == ("timetable.csv", 3, "loop")
        assert "p1" in said.message

    def test_two_trains_on_one_road_too_short_for_both(self):
        said = one(("timetable", "birch,loop,19:11", "birch,platform,19:11"), ("railway", "length = 1500", "length = 900"))
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
