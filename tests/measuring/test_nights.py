"""What an evening of the benchmark is under each condition, by what boards said and by the truth."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from bridge.core.plant import DetectorKind
from bridge.wire.lines import Report
from bridge.wire.records import Received

from . import nights
from .nights import Night, Recorded, recorded
from .true_lines import TrueLines
from .yards import dead_readers

SEED = 603


def reads(evening: Recorded) -> Iterator[tuple[str, str]]:
    """Each read that a board reported: the reader and the tag."""
    at = {(d.board, d.input): d.id for d in evening.railway.plant.detectors.values() if d.kind is DetectorKind.READER}
    for record in evening.records:
        if isinstance(record, Received) and isinstance(record.line, Report):
            reader = at.get((record.line.board, record.line.input))
            if reader is not None and record.line.value.startswith("tag="):
                yield reader, record.line.value.removeprefix("tag=")


def test_so_many_reads_are_missed() -> None:
    """Crews do the same whatever is read, so both evenings have the same passes."""
    none, fifth = (recorded(Night(missed=missed), SEED) for missed in (0.0, 0.2))
    assert none.truth["lines"] == fifth.truth["lines"]
    share = len(list(reads(fifth))) / len(list(reads(none)))
    assert share == pytest.approx(0.8, abs=0.04)


def test_dead_readers_say_nothing_and_the_others_do() -> None:
    evening = recorded(Night("worn", missed=0.0), SEED)
    said, dead = {reader for reader, _ in reads(evening)}, set(dead_readers(evening.railway, SEED))
    assert dead
    assert not said & dead
    assert said


def test_one_wagon_in_twenty_truly_stands_elsewhere_than_the_file_says() -> None:
    evening = recorded(Night(start="wrong"), SEED)
    where = TrueLines(evening.truth["lines"]).places_at(0.0)
    astray = [row.vehicle for row in evening.railway.standing if row.place not in where[row.vehicle]]
    assert len(astray) == 2
    assert {fault["fault"] for fault in evening.truth["faults"]} == {"misplaced"}
    exact = recorded(Night(), SEED)
    where = TrueLines(exact.truth["lines"]).places_at(0.0)
    assert all(row.place in where[row.vehicle] for row in exact.railway.standing)


@pytest.mark.parametrize("layout", ["mouths", "limits"])
def test_so_many_reads_are_ghosts(layout: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a hundred times as many as the benchmark has. Beside other readers every second ghost is garbled; a reader by
    itself garbles every one."""
    monkeypatch.setattr(nights, "GHOST_SHARE", 0.1)
    evening = recorded(Night(layout, missed=0.0), SEED)
    tags = {tag for vehicle in evening.railway.stock.values() for tag in vehicle.tags}
    found = list(reads(evening))
    garbled = sum(tag not in tags for _, tag in found) / len(found)
    assert garbled == pytest.approx(0.05 if layout == "mouths" else 0.1, abs=0.03)


def test_forgetful_crews_forget_one_set_out_and_one_lift() -> None:
    truth = recorded(Night(crews="forgetful"), SEED).truth
    assert sorted(each["kind"] for each in truth["expected"]) == ["lift-missed", "set-out-forgotten"]
    assert sum(not move["done"] for move in truth["moves"]) == 2


def test_the_same_seed_gives_the_same_evening() -> None:
    one, other = recorded(Night(), SEED), recorded(Night(), SEED)
    assert one.records == other.records
    assert one.truth == other.truth
