"""The tables of railway.toml that set things: railway, limits, broker, and the columns of other people's spreadsheets.

Rule: every limit has a value, the contract's where the railway says none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from bridge.folder.fields import Fields
from bridge.folder.finding import Findings, Spot
from bridge.folder.toml_values import Table

LIMITS: Mapping[str, float] = {
    "out_after": 20,
    "complete_after": 30,
    "divided_after": 10,
    "occupied_for": 0.5,
    "trip_for": 60,
    "board_lost_after": 6,
    "reports_lost_after": 5,
    "tag_within": 10,
    "noisy_within": 10,
    "early_by": 60,
    "due_before": 600,
    "noisy_changes": 20,
    "weak_reads": 20,
    "weak_share": 0.2,
    "overdue_factor": 1.5,
}
COUNTS = ("noisy_changes", "weak_reads")
MAY_BE_NOTHING = ("occupied_for", "early_by", "due_before")
COLUMNS: Mapping[str, tuple[str, ...]] = {
    "stock": ("vehicle", "kind", "class", "painted", "length", "tags", "detected", "tail", "home", "notes"),
    "whereabouts": ("vehicle", "road", "order"),
    "timetable": ("working", "kind", "engine", "station", "road", "arrive", "depart", "rake", "wait_for"),
    "moves": ("vehicle", "from", "to", "working", "call", "load", "notes"),
}


@dataclass(frozen=True, slots=True)
class Broker:
    """Where boards linked by MQTT are heard. The password stands in a file of its own, never here."""

    host: str
    port: int = 1883
    tls: bool = False
    user: str | None = None


@dataclass(frozen=True, slots=True)
class Heading:
    """The `[railway]` table: scale 76.2 is 1:76.2; clock is railway minutes to one real minute."""

    id: str
    name: str
    scale: float
    clock: float


def heading(table: Table | None, file: Spot, findings: Findings) -> Heading:
    """The railway's own table."""
    if table is None:
        findings.fault(
            file,
            "There is no [railway] table.",
            "Begin the file with `[railway]` and its `id`, `name`, `scale` and `clock`.",
        )
        return Heading("", "", 1.0, 1.0)
    fields = Fields(table, "[railway]", findings)
    found = fields.id("id", '"example"')
    name = fields.text("name", '"Example Railway"')
    scale = fields.number("scale", "76.2", most=10_000)
    clock = fields.number("clock", "4", most=1_000)
    fields.done()
    return Heading(found or "", name or "", scale or 1.0, clock or 1.0)


def limits(table: Table | None, findings: Findings) -> dict[str, float]:
    """All limits, the railway's own where it says them: seconds, numbers and ratios as the contract has them."""
    found = {key: float(default) for key, default in LIMITS.items()}
    if table is None:
        return found
    fields = Fields(table, "[limits]", findings)
    for key, default in LIMITS.items():
        if key in COUNTS:
            said: float | None = fields.whole(key, f"{default:g}", required=False)
        else:
            most = 1 if key == "weak_share" else 1e6
            said = fields.number(key, f"{default:g}", required=False, most=most, or_least=key in MAY_BE_NOTHING)
        if said is not None:
            found[key] = said
    fields.done()
    return found


def broker(table: Table | None, findings: Findings) -> Broker | None:
    """The broker, where one is named."""
    if table is None:
        return None
    fields = Fields(table, "[broker]", findings)
    host = fields.text("host", '"127.0.0.1"')
    tls = fields.flag("tls", default=False)
    port = fields.whole("port", "1883", required=False, most=65535)
    user = fields.text("user", '"numbertaker"', required=False)
    beside = "Take it out of here: it stands in the file broker-password beside railway.toml."
    fields.done(remedies={"password": beside, "pass": beside})
    return Broker(host or "", port or (8883 if tls else 1883), tls, user)


def column_names(table: Table | None, findings: Findings) -> dict[str, dict[str, tuple[str, Spot]]]:
    """By file ("stock"): our column names and the header names that stand for them, with their places."""
    found: dict[str, dict[str, tuple[str, Spot]]] = {}
    if table is None:
        return found
    fields = Fields(table, "[columns]", findings)
    for file, ours in COLUMNS.items():
        inner = fields.inner(file, '{ vehicle = "Wagon no." }')
        if inner is None:
            continue
        names = Fields(inner, f"[columns.{file}]", findings)
        found[file] = {}
        for column in ours:
            theirs = names.text(column, '"Wagon no."', required=False)
            if theirs is not None:
                found[file][column] = (theirs, names.spot(column))
        names.done()
    fields.done()
    return found
