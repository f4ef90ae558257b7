"""The CSV files: complete, and safe to open in a spreadsheet."""

from __future__ import annotations

import csv
import io
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from bridge.audit.tables import cell, moves_csv, register_csv, whereabouts_csv
from bridge.folder import read


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def test_every_move_of_the_plan_is_a_row(told: Any) -> None:
    listed = rows(moves_csv(told.account()))
    assert [(row["vehicle"], row["from"], row["to"]) for row in listed] == [
        (move.vehicle, move.from_road, move.to_road) for move in told.railway.moves
    ]
    assert [row["state"] for row in listed] == ["done", "done", "carried-over"]
    assert [row["told"] for row in listed] == ["done", "probably done", "carried over"]


def test_names_that_are_formulas_are_shown_as_text(told: Any) -> None:
    first, _, third = rows(moves_csv(told.account()))
    assert first["painted"] == '\'=HYPERLINK("x")'
    assert third["load"] == "-12"  # a number stays one
    assert rows(whereabouts_csv(told.account()))[1]["class"] == "'+van"


def test_numbers_stay_numbers(told: Any) -> None:
    late = [row["late"] for row in rows(register_csv(told.account())) if row["says"] == "arrived"]
    assert late == ["-404", "-204"]


def test_the_register_marks_what_was_corrected(told: Any) -> None:
    listed = rows(register_csv(told.account()))
    struck = next(row for row in listed if row["says"] == "arrived")
    instead = next(row for row in listed if row["number"] == struck["stands_instead"])
    assert struck["why_corrected"].startswith("a later line")
    assert (instead["says"], instead["late"]) == ("arrived", "-204")


def test_the_register_tells_all_but_observations_answers_and_whereabouts(told: Any) -> None:
    listed = rows(register_csv(told.account()))
    untold = {"observed", "may-go", "whereabouts"}
    assert [int(row["number"]) for row in listed if row["number"]] == [
        row["n"] for row in told.outcomes if row["says"] not in untold
    ]
    assert [(row["text"], row["who"]) for row in listed if row["says"] == "operator"] == [
        ("begin 19:00", "Pat <b>"),
        ("verdict i1 mine", ""),
        ("end", ""),
    ]


def test_a_correction_of_an_untold_statement_stays_untold(evening: Any) -> None:
    n = evening.say(1.0, None, "observed", detector="d", state="on")
    evening.say(2.0, None, "corrected", of=n, why="")
    assert rows(register_csv(evening.account())) == []


def test_the_last_whereabouts_of_each_vehicle_are_told(told: Any) -> None:
    listed = rows(whereabouts_csv(told.account()))
    assert [(row["vehicle"], row["road"], row["order"], row["sure"]) for row in listed] == [
        ("e1", "birch.platform", "1", "0.999"),
        ("w1", "birch.platform", "2", "0.62"),
        ("w2", "alder.dock", "2", "1.0"),
    ]


def test_the_whereabouts_are_those_of_a_railway_folder(told: Any) -> None:
    """The next session can begin with them: the reader of the folder takes the file as it is."""
    told.say(421.0, None, "whereabouts", vehicle="w1", place="off", order=None, fouls=[], train=None, sure=1.0, by="told")
    plant = """
    railway = {id = "x", name = "X", scale = 76.2, clock = 4}
    [[station]]
    id = "alder"
    name = "Alder"
    [[station.road]]
    id = "dock"
    kind = "siding"
    length = 520
    open = ["down"]
    [[station]]
    id = "birch"
    name = "Birch"
    [[station.road]]
    id = "platform"
    kind = "running"
    length = 1200
    open = ["up"]
    """
    stock = "vehicle,kind,length\ne1,engine,145\nw1,wagon,116\nw2,wagon,116\n"
    sheet = whereabouts_csv(told.account())
    found = read({"railway.toml": plant.encode(), "stock.csv": stock.encode(), "whereabouts.csv": sheet.encode()})
    assert [finding for finding in found.findings if finding.level == "fault"] == []
    assert found.railway is not None
    assert [(s.vehicle, s.place) for s in found.railway.standing] == [("e1", "birch.platform"), ("w2", "alder.dock")]


@pytest.mark.parametrize("text", ["=1+1", "+x", "-x", "@x", "\tx", "\rx", "-1+1", "=", "-"])
def test_a_text_that_would_be_a_formula_is_not_one(text: str) -> None:
    assert cell(text) == f"'{text}"


@given(some.text() | some.integers() | some.floats(allow_nan=False, allow_infinity=False) | some.none())
def test_no_text_begins_as_a_formula_and_no_number_changes(value: Any) -> None:
    made = cell(value)
    if isinstance(value, int | float):
        assert made == value
    elif made and str(made)[0] in "=+-@\t\r":
        assert float(str(made)) == float(str(value))
