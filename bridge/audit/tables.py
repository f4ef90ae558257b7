"""The account as CSV for a spreadsheet: register, moves, whereabouts.

Rule: UTF-8, comma, a header row, ids as in the railway folder. A spreadsheet must not take a text for a formula: a text that
begins with = + - @ (or a tab or carriage return) gets an apostrophe before it, unless the whole of it is a plain number.
Numbers are written as numbers, with a point.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from typing import Any

from bridge.audit.account import Account, Row
from bridge.audit.moves import moves
from bridge.audit.names import Names
from bridge.audit.sentences import sentence
from bridge.wire.records import Said

UNTOLD = frozenset({"observed", "may-go", "whereabouts"})
"""What the register leaves out: single observations and answers are no happenings, whereabouts have a table of their own."""

REGISTER = (
    "number", "clock", "happened", "seconds", "says", "text", "train", "vehicle", "section", "station", "road", "state",
    "late", "sure", "irregularity", "level", "corrected_by", "why_corrected", "stands_instead", "evidence", "who",
)  # fmt: skip
MOVES = ("row", "vehicle", "painted", "from", "to", "working", "call", "load", "state", "told", "train", "sure", "clock")
WHEREABOUTS = ("vehicle", "painted", "kind", "class", "road", "order", "fouls", "train", "sure", "by", "clock", "evidence")

_FORMULA = re.compile(r"[=+\-@\t\r]")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")


def register_rows(account: Account) -> list[Row | Said]:
    """What the register tells, in order: outcomes, and between them what operators said, by their times."""
    said = [journalled.record for journalled in account.records if isinstance(journalled.record, Said)]
    told = [row for row in account.outcomes if row["says"] not in UNTOLD and not _untold_correction(account, row)]
    keyed: list[tuple[float, int, Row | Said]] = [(record.t, 0, record) for record in said]
    keyed += [(float(row["t"]), 1, row) for row in told]
    return [what for _, _, what in sorted(keyed, key=lambda entry: entry[:2])]


def _untold_correction(account: Account, row: Row) -> bool:
    return row["says"] == "corrected" and account.by_number.get(row["of"], row)["says"] in UNTOLD


def register_csv(account: Account) -> str:
    """The register; a corrected statement stays, with the number of what stands instead."""
    names = Names(account.railway)
    rows: list[Sequence[Any]] = []
    for what in register_rows(account):
        if isinstance(what, Said):
            spoken: dict[str, Any] = {"seconds": what.t, "says": "operator", "text": what.words, "who": what.who}
            spoken["clock"] = account.clock_at(what.t)
            rows.append([spoken.get(column) for column in REGISTER])
        else:
            rows.append(_outcome(account, names, what))
    return _csv(REGISTER, rows)


def _outcome(account: Account, names: Names, row: Row) -> list[Any]:
    correction = account.corrections.get(row["n"])
    values: dict[str, Any] = {column: row.get(column) for column in REGISTER}
    values["number"], values["seconds"] = row["n"], row["t"]
    values["happened"] = account.happened_clock(row) if "happened" in row else None
    values["text"] = sentence(row, names)
    values["irregularity"] = row.get("id")
    if correction is not None:
        values["corrected_by"], values["why_corrected"] = correction.by, correction.why
        values["stands_instead"] = correction.instead
    values["evidence"] = " ".join(str(n) for n in row["evidence"])
    return [values[column] for column in REGISTER]


def moves_csv(account: Account) -> str:
    """Every row of moves.csv with what became of it."""
    rows: list[Sequence[Any]] = []
    for told in moves(account):
        move, last = told.move, told.last
        painted = account.railway.stock[move.vehicle].painted if move.vehicle in account.railway.stock else ""
        booked = (move.index + 1, move.vehicle, painted, move.from_road, move.to_road, move.working, move.call, move.load)
        clock = account.happened_clock(last) if last is not None else None
        rows.append((*booked, told.state, told.words, told.train, told.sure, clock))
    return _csv(MOVES, rows)


def closing(account: Account) -> dict[str, Row]:
    """The last word on each vehicle that still stands, in the order of the stock, others behind."""
    last = {row["vehicle"]: row for row in account.standing if row["says"] == "whereabouts"}
    order = [vehicle for vehicle in account.railway.stock if vehicle in last]
    order += sorted(vehicle for vehicle in last if vehicle not in account.railway.stock)
    return {vehicle: last[vehicle] for vehicle in order}


def whereabouts_csv(account: Account) -> str:
    """Where everything stands; `vehicle, road, order` are as in a railway folder's whereabouts.csv."""
    rows: list[Sequence[Any]] = []
    for vehicle, row in closing(account).items():
        known = account.railway.stock.get(vehicle)
        about = (known.painted, known.kind, known.klass) if known else ("", "", "")
        evidence = " ".join(str(n) for n in row["evidence"])
        fouls = " ".join(row["fouls"])
        place = (row["place"], row["order"], fouls, row["train"], row["sure"], row["by"], row["clock"], evidence)
        rows.append((vehicle, *about, *place))
    return _csv(WHEREABOUTS, rows)


def _csv(header: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([cell(value) for value in row] for row in rows)
    return out.getvalue()


def cell(value: Any) -> str | int | float:
    """A value as a cell: nothing for None, numbers as they are, a text that would be a formula behind an apostrophe."""
    if value is None:
        return ""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return value
    text = str(value)
    if _FORMULA.match(text) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text
