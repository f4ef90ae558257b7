"""What is said of a capture: the outcomes that a register would keep, ready to be compared.

Rule: left out is what every little improvement of the following moves (`observed`, advice unless the capture is about it,
and where vehicles were believed
in between), never what a register is for. `n` counts the rows that are kept, and `of` names them so; of `sure`, a measured
figure, the wording is kept: plain, probably, unseen.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

from bridge.core import state
from bridge.core.places import wording
from bridge.service.core import CORE
from bridge.service.replaying import replay
from bridge.wire.capture import CaptureFault, read_capture
from bridge.wire.records import Record

from .scene import railway_of

STRICT = replace(CORE, fresh=lambda after_end: state.fresh(strict=True, after_end=after_end))
"""The core, its rules raising where they fail instead of being set aside."""

ADVICE = "# advice: kept"
"""In the header of a capture that is about whether trains may go."""

Row = dict[str, Any]


def records_of(text: str) -> list[Record]:
    """The records of a capture that has no fault."""
    rows = list(read_capture(text.splitlines()))
    faults = [row for row in rows if isinstance(row, CaptureFault)]
    assert not faults, faults[:3]
    return [row for row in rows if not isinstance(row, CaptureFault)]


def folder_of(text: str) -> str:
    """The railway folder that a capture's header names."""
    return next(line.removeprefix("# folder: ") for line in text.splitlines() if line.startswith("# folder: "))


@cache
def all_said(text: str) -> list[Row]:
    """Every outcome of a capture, as its JSON object reads back; asked again it is the same rows, which nobody changes."""
    said = replay(railway_of(folder_of(text)), records_of(text), STRICT)
    return [json.loads(json.dumps(outcome.as_dict())) for outcome in said]


def sessions(rows: list[Row]) -> Iterator[list[Row]]:
    """The outcomes of each session in turn."""
    one: list[Row] = []
    for row in rows:
        if row["n"] == 1 and one:
            yield one
            one = []
        one.append(row)
    if one:
        yield one


def kept(rows: list[Row], advice: bool = False) -> list[Row]:
    """The rows of one session that a register keeps, and where everything stands when it closes; with `advice` also whether
    trains might go."""
    closing = len(rows) - 1
    while closing > 0 and rows[closing - 1]["says"] == "whereabouts" and rows[closing - 1]["t"] == rows[-1]["t"]:
        closing -= 1
    left_out = {"observed", "whereabouts"} if advice else {"observed", "whereabouts", "may-go"}
    found = [
        dict(row)
        for at, row in enumerate(rows)
        if row["says"] not in left_out or (row["says"] == "whereabouts" and at >= closing)
    ]
    number = {row["n"]: n for n, row in enumerate(found, 1)}
    for row in found:
        row["n"] = number[row["n"]]
        if "sure" in row:
            row["sure"] = wording(row["sure"])
        if row["says"] == "corrected":
            row["of"] = number[row["of"]]
    return found


def said_of(text: str) -> list[Row]:
    """What the expected file of a capture holds."""
    advice = ADVICE in text.splitlines()
    return [row for session in sessions(all_said(text)) for row in kept(session, advice)]


def as_lines(rows: list[Row]) -> str:
    """Rows as JSON lines."""
    return "".join(json.dumps(row, ensure_ascii=False) + "\n" for row in rows)


def read_lines(path: Path) -> list[Row]:
    """Rows out of JSON lines."""
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
