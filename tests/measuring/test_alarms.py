"""What is planted, borne out otherwise or false, and moves, on a hand-made truth of one forgotten set-out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from bridge.core.plan import Railway

from .alarms import alarms, false_alarms, moves
from .cells import DEMONSTRATION, railway_of
from .counting import Count

SUBJECT = {"train": "g1", "vehicle": "w01", "road": "pettymarsh.dairy"}
EXPECTED = {
    "kind": "set-out-forgotten",
    "subject": SUBJECT,
    "evidence_t": 10.0,
    "due_t": 20.0,
    "by": [],
    "may_follow": ["wagon-misplaced"],
}
TRUTH: dict[str, Any] = {
    "expected": [EXPECTED],
    "vehicles": {},
    "mistakes": ["forgotten-set-out"],
    "faults": [],
    "reasons": [],
    "sections": [[30.0, "x", ["p1"], []], [40.0, "x", ["p1"], ["w05"]], [50.0, "x", [], ["w05"]]],
    "end_t": 100.0,
    "moves": [
        {"vehicle": "w01", "from": "lanternby.loop", "to": "pettymarsh.dairy", "done": False},
        {"vehicle": "w02", "from": "lanternby.loop", "to": "pettymarsh.dairy", "done": True},
    ],
}
HAND = {"fault": "moved-by-hand", "subject": "w08+pettymarsh.mill", "t": 5.0, "by": []}
DEAF = {"fault": "deaf-reader", "subject": "pettymarsh-up-reader", "t": 0.0, "by": ["pettymarsh-up-reader"]}


@pytest.fixture(scope="module")
def railway() -> Railway:
    return railway_of(DEMONSTRATION, 0)


def said(n: int, kind: str, **keys: Any) -> dict[str, Any]:
    """A word of an irregularity, opened, a caution, at second 15, unless said otherwise."""
    word = {"id": f"i{n}", "level": "caution", "status": "open", "cause": None, "because": [], "t": 15.0}
    return {"n": n, "says": "irregularity", "kind": kind, **word, **keys}


def corrected(n: int, of: int) -> dict[str, Any]:
    return {"n": n, "says": "corrected", "of": of, "t": 16.0}


def falsely(railway: Railway, *rows: Mapping[str, Any], **more: Any) -> list[str]:
    """The kinds that are false, of these words in an evening whose truth has `more`."""
    return [row["kind"] for row in alarms({**TRUTH, **more}, railway, rows)[1]]


def test_a_planted_one_is_found_and_what_follows_from_it_is_not_false(railway: Railway) -> None:
    rows = [
        said(1, "set-out-forgotten", **SUBJECT),
        said(2, "wagon-misplaced", vehicle="w99", road="pettymarsh.mill"),
        said(3, "overdue", train="g1", cause="i1"),
    ]
    counts, false = alarms(TRUTH, railway, rows)
    assert false == []
    assert (counts["found"], counts["in time"]) == (Count(1, 1), Count(1, 1))
    assert (counts["recall set-out-forgotten"], counts["precision set-out-forgotten"]) == (Count(1, 1), Count(1, 1))


def test_one_that_comes_too_late_is_found_and_not_in_time(railway: Railway) -> None:
    counts, _ = alarms(TRUTH, railway, [said(1, "set-out-forgotten", **SUBJECT, t=22.5)])
    assert (counts["found"], counts["in time"]) == (Count(1, 1), Count(0, 1))


def test_one_that_never_comes_is_missed_and_one_that_never_came_due_is_not_counted(railway: Railway) -> None:
    assert alarms(TRUTH, railway, [])[0]["found"] == Count(0, 1)
    never = {**TRUTH, "expected": [{**EXPECTED, "due_t": None, "evidence_t": None}]}
    assert alarms(never, railway, [])[0]["found"] == Count()


def test_another_subject_is_false_and_costs_precision(railway: Railway) -> None:
    rows = [said(1, "set-out-forgotten", **SUBJECT), said(2, "set-out-forgotten", **{**SUBJECT, "vehicle": "w02"})]
    counts, false = alarms(TRUTH, railway, rows)
    assert [row["n"] for row in false] == [2]
    assert counts["false caution"] == Count(0, 1)
    assert counts["precision set-out-forgotten"] == Count(1, 2)


def test_the_level_is_the_highest_and_what_was_corrected_or_ended_is_taken_back(railway: Railway) -> None:
    rows = [
        said(1, "road-blocked", train="p1", road="x", level="note"),
        said(2, "road-blocked", id="i1", train="p1", road="x"),
        said(3, "wrong-road", train="p1", road="x"),
        corrected(4, 3),
        said(5, "section-clash", train="p1", section="y", trains=["p1"], level="danger"),
        said(6, "section-clash", id="i5", train="p1", section="y", trains=["p1"], level="danger", status="ended"),
    ]
    counts, _ = alarms(TRUTH, railway, rows)
    assert counts["false note"] == Count(0, 0)
    assert counts["false caution"] == Count(1, 2), "the wrong road alone was taken back"
    assert counts["false danger"] == Count(1, 1)
    assert len(false_alarms(TRUTH, rows)) == 3


def test_a_freight_irregularity_about_a_move_not_done_is_borne_out(railway: Railway) -> None:
    row = said(1, "lift-missed", **SUBJECT)
    assert falsely(railway, row) == []
    assert alarms(TRUTH, railway, [row])[0]["aside"] == Count(1, 1)
    assert falsely(railway, said(1, "lift-missed", **{**SUBJECT, "vehicle": "w02"})) == ["lift-missed"]


def test_what_tells_of_a_struck_detector_is_borne_out(railway: Railway) -> None:
    weak = said(1, "reader-weak", detector="pettymarsh-up-reader", level="note")
    other = said(2, "reader-weak", detector="pettymarsh-down-reader", level="note")
    board = said(3, "board-lost", board=railway.plant.detectors["pettymarsh-up-reader"].board)
    assert falsely(railway, weak, other, board) == ["reader-weak", "reader-weak", "board-lost"]
    assert falsely(railway, weak, other, board, faults=[DEAF]) == ["reader-weak"]
    assert falsely(railway, weak, other, mistakes=["dirty"]) == []


def test_what_a_hand_has_moved_is_borne_out_once_it_was(railway: Railway) -> None:
    row = said(1, "wagon-misplaced", vehicle="w08", road="pettymarsh.mill")
    assert falsely(railway, row, expected=[]) == ["wagon-misplaced"]
    assert falsely(railway, row, expected=[], faults=[HAND]) == []
    assert falsely(railway, {**row, "t": 4.0}, expected=[], faults=[HAND]) == ["wagon-misplaced"]


def test_a_wrong_road_is_borne_out_by_its_crew(railway: Railway) -> None:
    row = said(1, "wrong-road", train="p2", road="saltgander.loop")
    reason = {"working": "p2", "vehicle": None, "text": "came in on saltgander.loop, for the other is taken"}
    assert falsely(railway, row) == ["wrong-road"]
    assert falsely(railway, row, reasons=[reason]) == []
    assert falsely(railway, row, reasons=[{**reason, "working": "p1"}]) == ["wrong-road"]


@pytest.mark.parametrize(("t", "is_so"), [(37.9, False), (38.0, True), (45.0, True), (52.0, True), (52.1, False)])
def test_a_clash_is_borne_out_while_the_section_is_truly_shared(railway: Railway, t: float, is_so: bool) -> None:
    row = said(1, "section-clash", train="p1", section="x", trains=["p1"], level="danger", t=t)
    assert (falsely(railway, row) == []) is is_so


def test_a_planted_kind_of_which_the_core_has_no_rule_is_counted_as_wanting(railway: Railway) -> None:
    planted = [EXPECTED, {**EXPECTED, "kind": "no-such-kind"}]
    assert alarms({**TRUTH, "expected": planted}, railway, [])[0]["kinds wanting"] == Count(1, 2)


def test_moves_are_known_by_their_last_word() -> None:
    def word(vehicle: str, state: str) -> dict[str, Any]:
        return {"says": "move", "vehicle": vehicle, "from": "lanternby.loop", "to": "pettymarsh.dairy", "state": state}

    counts = moves(TRUTH, [word("w01", "in-train"), word("w01", "done"), word("w02", "done"), word("w02", "in-train")])
    assert counts == {"moves known": Count(0, 1), "moves untrue": Count(1, 1)}
    assert moves(TRUTH, [word("w02", "done")]) == {"moves known": Count(1, 1), "moves untrue": Count(0, 1)}
