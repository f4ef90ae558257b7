"""Each fault of tags, wheels, rails, inputs, power and boards shows on the wire what it says, and the truth tells what was
done, when, and by which detectors it showed."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise
from random import Random
from typing import Any

import pytest

from bridge.core.plant import DetectorKind
from bridge.virtual.boards import Boards
from bridge.virtual.staging import Stage
from bridge.virtual.timeline import Timeline
from bridge.virtual.truth import Truth
from bridge.wire.lines import BoardLine, Hello, Report, State
from bridge.wire.records import BoardDown, BoardUp

from .night import night, tag_of, unread

# -- tags and readers --------------------------------------------------------------------------------------------------


def test_a_weak_tag_is_weak_at_all_readers_and_no_other_is() -> None:
    one = night("weak-tag=w05")
    missing = unread(one)
    assert {tag for _, tag in missing} == {tag_of("w05")}
    assert len({reader for reader, _ in missing}) > 2
    assert one.fault["times"] == missing.total()
    assert set(one.fault["by"]) == {reader for reader, _ in missing}
    assert one.truth["begin_t"] < one.fault["shows_t"] < one.truth["end_t"]


@pytest.mark.parametrize(("name", "least"), [("dead-reader", 1.0), ("deaf-reader", 0.5), ("slow-reader", 0.5)])
def test_one_reader_misses_and_no_other_does(name: str, least: float) -> None:
    one = night(f"{name}=featherlow-up-reader")
    missing = unread(one)
    passed = sum(count for (reader, _), count in night().tags().items() if reader == "featherlow-up-reader")
    assert {reader for reader, _ in missing} == {"featherlow-up-reader"}
    assert least * passed <= missing.total() <= passed
    assert one.fault["by"] == ["featherlow-up-reader"]
    assert one.fault["times"] == missing.total()


def test_a_reader_falls_silent_while_the_tag_stays(demo: Stage) -> None:
    silent = night("silent-reader=pettymarsh-mill-reader")
    assert silent.fault["times"] > 0
    assert silent.fault["by"] == ["pettymarsh-mill-reader"]
    assert unread(silent) == Counter()  # each tag has been told before


def test_neighbours_read_what_the_other_has_just_read() -> None:
    pair = ("lanternby-goods-reader", "lanternby-coal-reader")
    one = night("cross-talk=" + "+".join(pair))
    false = one.tags() - night().tags()
    assert one.fault["times"] == false.total() > 0
    assert {reader for reader, _ in false} <= set(pair)
    passing = {tag for reader, tag in night().tags() if reader in pair}
    shared = [any(tag[n : n + 4] in true for true in passing for n in range(0, 8, 2)) for _, tag in false]
    assert all(shared)  # a known number, or one that shares bytes with it
    genuine = [(t, r.value) for reader in pair for t, r in night().reports(reader)]
    for reader in pair:
        for t, line in one.reports(reader):
            if (reader, line.value.removeprefix("tag=")) in false:
                assert any(-0.01 < t - then < 0.06 for then, _ in genuine)


def test_swapped_tags_pass_in_each_others_place() -> None:
    one = night("swapped-tags=s01+s05")
    order = {tag_of("s01"): tag_of("s05"), tag_of("s05"): tag_of("s01")}
    said = [line.value.removeprefix("tag=") for _, line in night().reports("copperwhin-end-reader")]
    assert [line.value.removeprefix("tag=") for _, line in one.reports("copperwhin-end-reader")] == [
        order.get(tag, tag) for tag in said
    ]
    assert one.fault["by"][0] == "copperwhin-end-reader"
    assert one.truth["vehicles"] == night().truth["vehicles"]


def test_a_tag_that_no_list_knows_passes_in_place_of_the_own_one() -> None:
    one = night("unlisted-tag=w05")
    tag = one.world.railway.stock["w05"].tags[0]
    assert tag not in {known for vehicle in one.stage.railway.stock.values() for known in vehicle.tags}
    own = {reader: count for (reader, said), count in night().tags().items() if said == tag_of("w05")}
    assert {reader: count for (reader, said), count in one.tags().items() if said == tag} == own != {}
    assert {said for _, said in unread(one)} == {tag_of("w05")}
    assert set(one.fault["by"]) == set(own)
    assert one.fault["times"] == sum(own.values())
    (expected,) = one.truth["expected"]
    assert (expected["kind"], expected["subject"]) == ("tag-unknown", {"tag": tag})
    second = sorted(t for reader in own for t, report in one.reports(reader) if report.value == f"tag={tag}")[1]
    assert expected["evidence_t"] == expected["due_t"] == pytest.approx(second, abs=1.0)


# -- wheels, rails, inputs, power --------------------------------------------------------------------------------------


def test_a_dirty_engine_drops_out_where_it_is() -> None:
    one = night("dirty-engine=e2")
    assert one.fault["times"] > 30
    assert len(one.fault["by"]) > 8  # one train everywhere
    assert not unread(one)


def test_a_dirty_rail_drops_out_under_whatever_runs_there() -> None:
    one = night("dirty-rail=lanternby-pettymarsh")
    assert one.fault["by"] == ["lanternby-line"]  # one section with every train
    more = len(one.reports("lanternby-line")) - len(night().reports("lanternby-line"))
    assert 0 < more <= 2 * one.fault["times"]
    assert len(one.lines) - len(night().lines) == pytest.approx(more, abs=3)


def test_a_floating_input_gives_bursts_and_then_tells_the_truth_again() -> None:
    one = night("floating-input=pettymarsh-mill")
    reports = one.reports("pettymarsh-mill")
    assert len(reports) > 3 * len(night().reports("pettymarsh-mill"))
    close_ms = [later.ms - earlier.ms for (_, earlier), (_, later) in pairwise(reports) if later.ms - earlier.ms < 50]
    assert len(close_ms) > 20
    assert min(close_ms) >= 7  # nothing is reported that the board's 8 ms (and its clock's whole ones) do not believe
    assert [line.value for _, line in reports] == ["off", "on"] * (len(reports) // 2)
    assert one.levels["pettymarsh", 4] == night().levels["pettymarsh", 4] == "on"
    assert one.fault["by"] == ["pettymarsh-mill"]


@pytest.mark.parametrize(("subject", "least"), [("pettymarsh-power", 2), ("saltgander", 1)])
def test_a_power_trip_clears_all_at_once_and_they_come_back(subject: str, least: int) -> None:
    one = night(f"power-trip={subject}")
    plant = one.stage.railway.plant
    began, ended = one.fault["t"], one.fault["until_t"]
    assert 2.0 <= ended - began <= 6.0
    lit = [d for d in one.fault["by"] if plant.detectors[d].kind is DetectorKind.TRACK]
    assert len(lit) >= least
    assert ("pettymarsh-power" in one.fault["by"]) == (subject == "pettymarsh-power")
    for detector in one.fault["by"]:
        went, came = ([line.value for t, line in one.reports(detector) if a < t < a + 0.1] for a in (began, ended))
        assert (went, came) == ((["on"], ["off"]) if plant.detectors[detector].invert else (["off"], ["on"]))
    fed = {plant.detectors[detector].covers for detector in lit}
    assert not [row for row in one.truth["movement"] if began < row[0] < ended and row[3] in fed]


# -- boards ------------------------------------------------------------------------------------------------------------


def test_a_board_resets_when_points_move() -> None:
    one = night("brownout=pettymarsh")
    hellos = [(t, line) for t, line in one.lines if isinstance(line, Hello) and dict(line.extra)["reset"] == "brownout"]
    resets = one.truth["boards"]
    assert one.fault["times"] == len(resets) > 1
    assert {row["board"] for row in resets} == {"pettymarsh"}
    boots = [line.boot for _, line in hellos if line.board == "pettymarsh"]
    assert boots == list(range(boots[0], boots[0] + len(resets)))
    for row, (t, _) in zip(resets, hellos, strict=True):
        assert t == pytest.approx(row["until_t"], abs=0.1)
        said = [line for t, line in one.lines if row["t"] + 0.1 < t < row["until_t"] and line.board == "pettymarsh"]
        assert said == []


def test_a_silent_board_says_nothing_and_starts_anew() -> None:
    one = night("silent-board=featherlow")
    went, back = one.fault["t"], one.fault["until_t"]
    assert back - went == pytest.approx(40.0)
    lines = [(t, line) for t, line in one.lines if line.board == "featherlow"]
    assert not [line for t, line in lines if went + 0.1 < t < back]
    t, hello = next((t, line) for t, line in lines if t > went + 0.1)
    assert isinstance(hello, Hello)
    assert t == pytest.approx(back, abs=0.1)
    assert dict(hello.extra)["reset"] == "watchdog"
    (expected,) = one.truth["expected"]
    assert (expected["kind"], expected["subject"]) == ("board-lost", {"board": "featherlow"})
    assert went < one.fault["shows_t"] < expected["evidence_t"] < expected["due_t"] < back


def test_a_losing_board_never_sends_three_of_its_numbers() -> None:
    one = night("losing-board=pettymarsh")
    lost = [(row["boot"], row["seq"]) for row in one.truth["boards"]]
    assert {(row["board"], row["what"]) for row in one.truth["boards"]} == {("pettymarsh", "lost")}
    lines = [line for _, line in one.lines if line.board == "pettymarsh" and isinstance(line, (Report, State))]
    said = {(line.boot, line.seq) for line in lines}
    assert len(lost) == 3
    assert {(boot, seq) for boot, seq in lost if seq < max(line.seq for line in lines)} == set(lost)
    assert not said & set(lost)
    assert one.fault["times"] == 3
    assert one.fault["t"] <= one.truth["boards"][0]["t"] <= one.truth["boards"][2]["t"] == one.fault["until_t"]
    (expected,) = one.truth["expected"]
    assert (expected["kind"], expected["subject"]) == ("reports-lost", {"board": "pettymarsh"})
    assert one.fault["t"] < one.fault["shows_t"] < expected["evidence_t"] <= expected["due_t"]


def test_a_board_cut_off_sends_what_it_has_kept() -> None:
    one = night("link-drops")
    assert one.fault["subject"] == "copperwhin"
    went, back = one.fault["t"], one.fault["until_t"]
    links = [(type(r), r.t) for r in one.recording.records if isinstance(r, (BoardDown, BoardUp)) and r.t > 1]
    # Source: MQTT 3.1.1, section 3.1.2.10: a client is gone after one and a half times its keep-alive of 15 s.
    assert links == [(BoardDown, pytest.approx(went + 22.5, abs=0.01)), (BoardUp, pytest.approx(back, abs=0.01))]
    lines = [(t, line) for t, line in one.lines if line.board == "copperwhin"]
    assert not [line for t, line in lines if went + 0.1 < t < back]
    numbers = {line.seq for _, line in lines if isinstance(line, (Report, State))}
    assert numbers == set(range(min(numbers), max(numbers) + 1))
    burst = [line for t, line in lines if back <= t < back + 0.2 and isinstance(line, Report)]
    assert burst
    ages = [(lines[-1][1].ms - line.ms) / 1000 - (lines[-1][0] - back) for line in burst]  # type: ignore[union-attr]
    assert max(ages) > 5  # told long after it was
    (expected,) = one.truth["expected"]
    assert (expected["kind"], expected["subject"]) == ("board-lost", {"board": "copperwhin"})
    assert went < one.fault["shows_t"] < expected["evidence_t"] < expected["due_t"] < back


def test_a_board_cut_off_too_long_loses_what_it_cannot_keep(line: Any) -> None:
    railway = line(
        '[[detector]]\nid = "t"\nkind = "treadle"\nat = "ash-elm@ash"\nsees = "any"\nboard = "one"\ninput = 1\n',
        ["e1,engine,150,04AA000001,"],
        ["e1,ash.road,1"],
    )
    timeline, heard = Timeline(), list[BoardLine]()
    truth = Truth(railway, 1, ())
    boards = Boards(railway, timeline, truth, Random(1))
    boards.on_line = lambda board, said: heard.append(said)
    board = boards.by_name["one"]
    board.awake = True
    boards.cut_off("one", 10.0)
    for _ in range(40):
        boards.send(board, board.report(timeline.now_s, 1, "on"))
    assert heard == []
    timeline.step()
    assert [said.seq for said in heard if isinstance(said, Report)] == list(range(9, 41))
    assert [row["seq"] for row in truth.boards if row["what"] == "lost"] == list(range(1, 9))
