"""What is told by eye once a session has ended: `stands VEHICLE PLACE [order]`; unless said, at the end it came by."""

from __future__ import annotations

import pytest

from bridge.core.operator.words import Stands
from bridge.folder.handover import settled, stands_of
from bridge.folder.handover.standing import lines

from .evenings import closed, files, railway_of

FILES = files()
PLANT = railway_of(FILES).plant


@pytest.mark.parametrize(
    ("words", "place", "line"),
    [
        ([Stands("w5", "marrow.tip", 1)], "marrow.tip", ["w5", "w6", "w7", "w8"]),
        ([Stands("w5", "marrow.tip", 9)], "marrow.tip", ["w6", "w7", "w8", "w5"]),
        ([Stands("w5", "marrow.tip", None)], "marrow.tip", ["w6", "w7", "w8", "w5"]),  # open at its down end
        ([Stands("w7", "marrow.tip", None)], "marrow.tip", ["w6", "w7", "w8"]),
        ([Stands("w8", "marrow.tip", 1)], "marrow.tip", ["w8", "w6", "w7"]),
        ([Stands("w7", "off", None)], "marrow.tip", ["w6", "w8"]),
        ([Stands("w7", "nowhere", None), Stands("w99", "marrow.tip", None)], "marrow.tip", ["w6", "w7", "w8"]),
        ([Stands("w5", "thistle-marrow", None), Stands("w5", "marrow.loop", None)], "marrow.loop", ["w5"]),
        ([Stands("w6", "marrow.mill", 1), Stands("w6", "marrow.tip", 1)], "marrow.tip", ["w6", "w7", "w8"]),
        ([Stands("w5", "thistle-marrow", None), Stands("w5", "oxlip.quay", 1)], "thistle-marrow", []),
    ],
)
def test_where_a_vehicle_is_told_to_stand_it_stands(words: list[Stands], place: str, line: list[str]) -> None:
    standing = settled(stands_of(closed(FILES)["vehicles"]), words, PLANT)
    assert lines(standing).get(place, []) == line


def test_what_came_over_the_line_stands_at_the_end_it_came_by() -> None:
    words = [Stands("w5", "thistle-marrow", None), Stands("w5", "oxlip.platform", None)]
    start = {"w1": ("marrow.platform", 1)}
    standing = settled(stands_of(closed(FILES, start)["vehicles"]), [words[0], Stands("w5", "marrow.platform", None)], PLANT)
    assert lines(standing)["marrow.platform"] == ["w5", "w1"]


def test_it_is_sure_then_and_others_are_as_sure_as_they_were() -> None:
    before = stands_of(closed(FILES, sure={"w5": 0.4, "w6": 0.7})["vehicles"])
    after = settled(before, [Stands("w5", "oxlip.quay", None)], PLANT)
    assert [(after[v].sure, after[v].by) for v in ("w5", "w6")] == [(1.0, "told"), (0.7, "seen")]
