"""Trains in one section at once, and times that cannot be kept: conflicts at their rows, and only those."""

from .changed import TEXTS, conflict, conflicts


class TestSections:
    def test_two_trains_in_one(self):
        said = conflict(("timetable", "19:40:30,,p1", "19:21,,"))
        assert (said.file, said.line, said.text) == ("timetable.csv", 3, "19:21")
        assert "birch-cinder" in said.message
        assert "19:24" in said.remedy

    def test_touching_at_an_instant_is_none(self):
        assert conflicts(("timetable", "19:40:30,,p1", "19:24,,")) == []

    def test_booked_running_stands_for_a_time_not_given(self):
        assert (
            "birch-cinder"
            in conflict(("timetable", "19:40:30,,p1", "19:21,,"), ("timetable", "platform,19:24,", "platform,,")).message
        )

    def test_without_times_the_order_alone_is_booked(self):
        untimed = "working,kind,engine,station,road,rake\ng1,goods,e1,alder,platform,w1 w2 b1\ng1,goods,e1,birch,loop,\n"
        untimed += "g1,goods,e1,cinder,main,\np1,passenger,e2,cinder,main,c1\np1,passenger,e2,birch,platform,\n"
        assert conflicts(timetable=untimed) == []

    def test_closed_direction(self):
        all_found = conflicts(
            ("railway", 'rule = "token"\ndirections = ["up", "down"]', 'rule = "token"\ndirections = ["down"]')
        )
        assert [f.line for f in all_found] == [7]

    def test_calls_not_joined(self):
        said = conflict(("timetable", "p1,passenger,e2,birch,platform,19:24,19:30,,g1\n", ""), ("timetable", ",p1\n", ",\n"))
        assert (said.line, said.text) == (5 + 1, "alder")
        assert "birch" in said.remedy

    def test_road_not_open_to_the_section(self):
        said = conflicts(("timetable", "birch,loop,19:11", "birch,coal,19:11"))[0]
        assert (said.line, said.text) == (3, "coal")

    def test_road_that_does_not_reach_the_section(self):
        said = conflict(
            ("railway", 'kind = "loop"\nlength = 1450', 'kind = "loop"\nreaches = ["birch-cinder"]\nlength = 1450')
        )
        assert (said.line, said.text) == (3, "loop")
        assert "alder-birch" in said.message


class TestTimes:
    def test_a_call_before_the_one_before(self):
        said = conflict(("timetable", "alder.loop,19:34", "alder.loop,19:25"))
        assert (said.line, said.text) == (7, "19:25")

    def test_past_midnight_times_go_on(self):
        night = "working,kind,engine,station,road,arrive,depart\np1,passenger,e2,cinder,main,,23:58\n"
        night += "p1,passenger,e2,birch,platform,00:02,00:03\np1,passenger,e2,alder,loop,00:07,\n"
        moves = ("moves", TEXTS["moves.csv"].partition("\n")[2], "")
        all_found = conflicts(moves, timetable=night)
        assert [f.text for f in all_found] == ["00:02"]
        assert "24:02" in all_found[0].remedy
        assert conflicts(moves, timetable=night.replace(",00:0", ",24:0")) == []

    def test_waits_for_one_that_comes_later(self):
        said = conflicts(("timetable", "19:40:30,,p1", "19:23:00,,p1"))[-1]
        assert (said.line, said.text) == (3, "p1")
        assert "19:24" in said.message

    def test_waits_for_one_that_never_calls_there(self):
        waits = TEXTS["timetable.csv"].replace(",19:20,c1,", ",19:20,c1,x2") + "x2,goods,e1,birch,loop,20:10,,,\n"
        assert any("never calls there" in f.message and (f.line, f.text) == (5, "x2") for f in conflicts(timetable=waits))

    def test_waiting_in_a_circle(self):
        untimed = "working,kind,engine,station,road,rake,wait_for\n"
        untimed += "g1,goods,e1,alder,platform,w1 w2 b1,p1\ng1,goods,e1,birch,loop,,\n"
        untimed += "g1,goods,e1,cinder,main,,\np1,passenger,e2,cinder,main,c1,\np1,passenger,e2,birch,platform,,g1\n"
        untimed += "p1,passenger,e2,alder,loop,,\n"
        said = conflict(timetable=untimed)
        assert "circle" in said.message
        assert said.line in (2, 6)

    def test_waiting_for_a_train_whose_engine_is_needed_first(self):
        """g1 waits for g2, which its own engine is to work after it."""
        untimed = "working,kind,engine,station,road,rake,wait_for\ng1,goods,e1,alder,platform,w1 w2 b1,\n"
        untimed += "g1,goods,e1,birch,loop,,g2\ng1,goods,e1,cinder,main,,\ng2,goods,e1,cinder,main,,\n"
        untimed += "g2,goods,e1,birch,platform,,\n"
        said = conflict(timetable=untimed)
        assert (said.line, said.text) == (3, "g2")
        assert "g1, g2 wait for each other in a circle" in said.message
