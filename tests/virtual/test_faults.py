"""Each fault shows on the wire what it says, and the truth tells what was done, when, and by which detectors it showed."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from random import Random
from typing import Any

import pytest

from bridge.core.plan import Railway
from bridge.core.plant import DetectorKind
from bridge.virtual.boards import Boards
from bridge.virtual.faults import FAULTS, FaultError, chosen_faults
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage, StagingError, stage
from bridge.virtual.timeline import Timeline
from bridge.virtual.truth import Truth
from bridge.virtual.world import NEAR_MM, World
from bridge.wire.lines import BoardLine, Hello, Report, State
from bridge.wire.records import BoardDown, BoardUp, Received

from .conftest import DEMO, demonstration
from .geometry import overlaps, pieces_now

SEED = 3


@dataclass(frozen=True)
class Night:
    """An evening with faults, as its capture and its truth tell it."""

    stage: Stage
    recording: Recording
    text: str
    truth: Mapping[str, Any]
    world: World
    levels: Mapping[tuple[str, int], str]

    @property
    def fault(self) -> Mapping[str, Any]:
        (row,) = self.truth["faults"]
        return row

    @property
    def lines(self) -> list[tuple[float, BoardLine]]:
        return [(r.t, r.line) for r in self.recording.records if isinstance(r, Received)]

    def reports(self, detector: str) -> list[tuple[float, Report]]:
        known = self.stage.railway.plant.detectors[detector]
        return [
            (t, line)
            for t, line in self.lines
            if isinstance(line, Report) and (line.board, line.input) == (known.board, known.input)
        ]

    def tags(self) -> Counter[tuple[str, str]]:
        """How often each reader said each tag."""
        plant = self.stage.railway.plant
        readers = {(d.board, d.input): d.id for d in plant.detectors.values() if d.kind is DetectorKind.READER}
        found = [line for _, line in self.lines if isinstance(line, Report) and (line.board, line.input) in readers]
        return Counter((readers[line.board, line.input], line.value.removeprefix("tag=")) for line in found)


def held(railway: Railway, *faults: str, seed: int = SEED) -> Night:
    evening = stage(railway, DEMO).evening(seed, faults)
    recording = Recording(evening)
    text = recording.run()
    truth = json.loads(evening.truth_json())
    levels = {(name, number): level for name, board in evening.boards.items() for number, level in board.levels.items()}
    return Night(stage(railway, DEMO), recording, text, truth, evening.scene.world, levels)


@cache
def night(*faults: str) -> Night:
    return held(demonstration(), *faults)


def tag_of(vehicle: str) -> str:
    return demonstration().stock[vehicle].tags[0]


def unread(one: Night) -> Counter[tuple[str, str]]:
    """What was read on a clean evening and not on this."""
    return night().tags() - one.tags()


# -- choosing ----------------------------------------------------------------------------------------------------------


def test_every_fault_can_be_chosen_and_says_what_it_does(demo: Stage) -> None:
    assert set(FAULTS) <= set(demo.choices())
    assert all(len(sentence) > 30 for sentence in FAULTS.values())


def test_the_seed_chooses_a_subject_and_the_same_one_again() -> None:
    railway = demonstration()
    for name in FAULTS:
        found = [chosen_faults([name], railway, seed)[0].subjects for seed in range(30)]
        assert found == [chosen_faults([name], railway, seed)[0].subjects for seed in range(30)]
        assert len(set(found)) > 1 or name in ("link-drops", "power-trip"), name  # one board on a broker, one power input


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("weak-tag=W05", "weak-tag cannot strike 'W05'; the nearest that it can is w05."),
        ("dead-reader=saltgander-line", "the nearest that it can is saltgander-end-reader."),
        ("moved-by-hand=e1", "moved-by-hand cannot strike 'e1'"),
        ("link-drops=lanternby", "link-drops cannot strike 'lanternby'; none on this railway can be."),
        ("weak-tagg", "There is no mistake 'weak-tagg'. The nearest is weak-tag."),
    ],
)
def test_what_cannot_be_is_refused_by_name(demo: Stage, word: str, says: str) -> None:
    with pytest.raises(StagingError) as error:
        demo.evening(1, [word])
    assert says in str(error.value)


def test_a_railway_without_what_a_fault_needs_says_so(line: Any) -> None:
    bare = line("", ["e1,engine,150,04AA000001,"], ["e1,ash.road,1"])
    with pytest.raises(FaultError, match="link-drops: this railway has nothing that it could strike"):
        chosen_faults(["link-drops"], bare, 1)


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


# -- hands -------------------------------------------------------------------------------------------------------------


def lonely() -> Railway:
    """The demonstration with w08 alone in the dairy siding, whose detector so tells when it is taken away."""
    railway = demonstration()
    return replace(railway, standing=tuple(row for row in railway.standing if row.vehicle != "w07"))


@pytest.mark.parametrize("name", ["misplaced", "moved-by-hand"])
def test_a_wagon_elsewhere_is_told_by_no_detector_but_the_clear_road(name: str) -> None:
    one = held(lonely(), f"{name}=w08+pettymarsh.mill", seed=1)  # taken before others are set out in the dairy
    assert one.truth["vehicles"]["w08"]["place"] == "pettymarsh.mill"
    assert one.truth["roads"]["pettymarsh.mill"][0] == "w08"  # at the buffer stop, behind the others
    assert one.fault["by"] == ["pettymarsh-dairy"]
    assert tag_of("w08") not in {tag for _, tag in one.tags()}
    assert overlaps(one.world, pieces_now(one.world, one.truth["end_t"]), NEAR_MM) == []
    told = [t for t, line in one.reports("pettymarsh-dairy") if abs(t - (one.fault["t"] or 0)) < 0.05]
    rows = [row for row in one.truth["movement"] if row[1] == "w08"]
    if name == "misplaced":
        assert (one.fault["t"], told, rows) == (0.0, [], [])
    else:
        assert len(told) == 1
        assert [row[2:] for row in rows] == [["out", "pettymarsh.dairy"], ["in", "pettymarsh.mill"]]
        lines = {stretch: line for t, stretch, line in one.truth["lines"] if t <= one.fault["t"] + 0.001}
        assert (lines["pettymarsh.dairy"], lines["pettymarsh.mill"][0]) == ([], "w08")


def test_a_wagon_taken_from_among_others_shows_nowhere() -> None:
    one = night("moved-by-hand=w26")
    assert one.fault["shows_t"] is None
    assert one.fault["t"] > one.truth["begin_t"]
    assert one.truth["vehicles"]["w26"]["place"] == one.fault["subject"].partition("+")[2]
    assert one.tags() == night().tags()


# -- all of them -------------------------------------------------------------------------------------------------------


def test_all_faults_in_one_evening_are_the_same_evening_again() -> None:
    words = [name for name in FAULTS if name not in ("misplaced", "moved-by-hand")]
    words += ["misplaced=w26", "moved-by-hand=w08", "dirty"]
    one, other = held(demonstration(), *words), held(demonstration(), *words)
    assert one.text == other.text
    assert one.truth == other.truth
    assert len(one.truth["faults"]) == len(FAULTS)
    assert all(row["t"] is not None for row in one.truth["faults"])
