"""What is shown before anything is written, and its token."""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.core.operator.words import Stands
from bridge.folder.handover import offered

from .evenings import ended, files, lay_out


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return lay_out(tmp_path / "oxlip", files())


def test_what_is_uncertain_stands_first_then_come_all_with_what_changes(folder: Path) -> None:
    places = {"w5": ("marrow.tip", 1), "w6": ("marrow.tip", 3), "w7": ("marrow.tip", 2), "w8": "off"}
    shown = offered(folder, ended(files(), places=places, sure={"w3": 0.9, "w5": 0.5, "w7": 0.95})).as_dict()
    assert [(row["vehicle"], row["look"]) for row in shown["vehicles"][:3]] == [("w5", True), ("w3", True), ("e1", False)]
    rows = {row["vehicle"]: (row["change"], row["was"], row["place"], row["order"]) for row in shown["vehicles"]}
    assert rows["w5"] == ("moved", "oxlip.quay", "marrow.tip", 1)
    assert rows["w8"] == ("gone", "marrow.tip", "off", None)
    assert {rows[v][0] for v in ("w6", "w7")} == {"moved", None}, "two have changed places: one of them at least has moved"
    assert rows["e1"] == (None, None, "thistle.loop", 4)
    assert shown["rows"]["whereabouts.csv"].splitlines()[0] == "vehicle,road,order"


def test_a_number_that_changes_as_others_go_is_no_move(folder: Path) -> None:
    shown = offered(folder, ended(files(), places={"w6": "off"})).as_dict()
    rows = {row["vehicle"]: row["change"] for row in shown["vehicles"] if row["change"]}
    assert rows == {"w6": "gone"}


def test_who_is_new_in_the_file_is_told(folder: Path) -> None:
    texts = {**files(), "whereabouts.csv": b"vehicle,road,order\nw6,marrow.tip,1\n"}
    lay_out(folder, texts)
    shown = offered(folder, ended(texts, places={"w5": ("marrow.tip", 2)})).as_dict()
    assert [(row["vehicle"], row["change"]) for row in shown["vehicles"]] == [("w5", "new"), ("w6", None)]


def test_the_token_is_good_for_what_is_shown_and_nothing_else(folder: Path) -> None:
    def token(*told: Stands, **how: object) -> str:
        return offered(folder, ended(files(), *told, **how)).token

    first = token()
    others = [
        token(places={"w5": ("marrow.tip", 9)}),
        token(sure={"w5": 0.9}),
        token(Stands("w5", "marrow.loop", None)),
        token(states=["failed", "done"]),
    ]
    assert token() == first
    assert len({first, *others}) == 5
    moves = (folder / "moves.csv").read_text()
    (folder / "moves.csv").write_text(moves.replace("oxlip.quay", "oxlip.platform"))
    assert token(states=["failed", "done"]) == others[3], "the session's own moves are carried over"
    (folder / "timetable.csv").unlink()
    assert token() != first, "what check says of it has changed"


def test_what_check_says_of_the_new_rows_is_shown_and_what_is_new_is_marked(folder: Path) -> None:
    places = {"w3": ("thistle.coal", 1), "c1": ("thistle.coal", 2), "w4": ("thistle.coal", 3)}
    shown = offered(folder, ended(files(), places=places)).as_dict()
    found = [row for row in shown["findings"] if row["new"]]
    assert any(row["level"] == "conflict" for row in found), found


def test_what_another_has_written_into_the_file_since_is_not_written_over(folder: Path) -> None:
    (folder / "whereabouts.csv").write_text("vehicle,road,order\nw6,marrow.tip,1\n")
    shown = offered(folder, ended(files(), places={"w5": ("marrow.tip", 9)})).as_dict()
    assert shown["token"] is None
    assert "whereabouts.csv has changed since session 1 read it" in shown["text"]


def test_what_was_written_after_an_earlier_agreement_may_be_written_over(folder: Path) -> None:
    first, then = (Stands("w5", place, None) for place in ("marrow.loop", "marrow.platform"))
    (folder / "whereabouts.csv").write_bytes(offered(folder, ended(files(), first)).whereabouts)
    assert offered(folder, ended(files(), first)).is_written
    later = offered(folder, ended(files(), first, then))
    assert (later.why_not, later.is_written) == (None, False)


@pytest.mark.parametrize("change", ["fault", "stock"])
def test_a_folder_that_cannot_be_taken_afterwards_is_not_written_into(folder: Path, change: str) -> None:
    if change == "fault":
        (folder / "timetable.csv").write_text("working,kind\ng1\n")
    else:
        stock = (folder / "stock.csv").read_text().splitlines()
        (folder / "stock.csv").write_text("\n".join(row for row in stock if not row.startswith("w5,")))
    shown = offered(folder, ended(files())).as_dict()
    assert shown["token"] is None
    assert shown["text"]
