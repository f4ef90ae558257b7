"""The moves left undone, as a moves.csv for next time."""

from __future__ import annotations

from typing import Any

import pytest

from bridge.folder import read
from bridge.folder.handover import stands_of
from bridge.folder.handover.moves import LeftOver, left_over

from .evenings import closed, files, railway_of

HEADER = "vehicle,from,to,working,call,load,notes,for whom"
ROW = "w1,thistle.loop,marrow.mill,g1,1,coal,wet,the miller"


def left(rows: list[str], **how: Any) -> tuple[list[str], tuple[LeftOver, ...]]:
    texts = {**files(), "moves.csv": "\n".join([HEADER, *rows, ""]).encode()}
    view = closed(texts, **how)
    railway = railway_of(texts)
    content, found = left_over(texts, view, stands_of(view["vehicles"]), railway.plant, railway.workings)
    if content:
        assert [f for f in read({**texts, "moves.csv": content}).findings if f.level == "fault"] == []
    return content.decode().splitlines()[1:], found


@pytest.mark.parametrize(
    ("state", "to_come", "row"),
    [
        ("carried-over", ["g1"], "w1,oxlip.quay,marrow.mill,g1,1,coal,wet,the miller"),
        ("carried-over", [], "w1,oxlip.quay,marrow.mill,,,coal,wet,the miller"),
        ("failed", ["g1"], "w1,oxlip.quay,marrow.mill,,,coal,wet,the miller"),
        ("failed", [], "w1,oxlip.quay,marrow.mill,,,coal,wet,the miller"),
    ],
)
def test_a_move_begins_where_its_vehicle_stands_and_keeps_a_working_that_goes_on(
    state: str, to_come: list[str], row: str
) -> None:
    assert left([ROW], places={"w1": ("oxlip.quay", 5)}, states=[state], to_come=to_come)[0] == [row]


@pytest.mark.parametrize(("state", "place"), [("done", ("oxlip.quay", 5)), ("failed", ("marrow.mill", 5))])
def test_what_is_done_or_stands_there_already_is_dropped(state: str, place: tuple[str, int]) -> None:
    assert left([ROW], places={"w1": place}, states=[state]) == ([], ())


def test_rows_of_one_vehicle_follow_each_other() -> None:
    rows = ["w1,thistle.loop,marrow.mill,,,,,", "w1,marrow.mill,oxlip.quay,,,,,"]
    undone = ["failed", "failed"]
    assert left(rows, places={"w1": ("thistle.coal", 1)}, states=undone)[0] == ["w1,thistle.coal,marrow.mill,,,,,", rows[1]]
    assert left(rows, places={"w1": ("marrow.mill", 9)}, states=undone)[0] == [rows[1]]
    assert left(rows, places={"w1": ("oxlip.platform", 9)}, states=["done", "failed"])[0] == [
        "w1,oxlip.platform,oxlip.quay,,,,,"
    ]


@pytest.mark.parametrize("place", ["off", ("thistle-marrow", 1), ("marrow.up", 1)])
def test_what_stands_on_no_road_keeps_its_row_and_that_is_told(place: Any) -> None:
    rows, (found,) = left([ROW], places={"w1": place}, states=["failed"])
    assert rows == ["w1,thistle.loop,marrow.mill,,,coal,wet,the miller"]
    assert found.note.startswith("w1 ")
