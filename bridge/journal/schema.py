"""The tables of a store, as named migrations: what of an evening is kept for ever.

Rule: what has been written is never changed or taken out; triggers see to that. A migration once released keeps its name and
its meaning. Everything that can be derived (outcomes, state, gaps) is not here: it is made anew from the records.

    store      one row: whose railway it is, and the latest reading of both clocks (host seconds, and unix time)
    sessions   one row a session: when its first line came, by both clocks; `after_end` is 1 where nothing may be said
               before its `begin`, as an earlier session of the same store has ended
    folders    the files of the railway folder in force for a session, byte for byte; taken before its first line
    learned    what a session begins with of what earlier ones have learned of readers and tags; no row where that is
               nothing. It follows from their records, and is kept so that a session can be told again without them
    records    every line of the session in order, `n` from 1; `line` is the line of a capture without its seconds
    deadlines  when the core was woken, and behind which line (0: before the first); they have no number of their own
    clock_steps
               where the time of day was set: host seconds, behind which line it was noticed, unix time before and after;
               `running` is 0 where it was found at a start of the service. Nothing but papers reads it
    deliveries by which packet identifier a broker brought a record that has no number of its own (words, a reading): what
               comes once more is known by it. 0, of no message: from this record on a broker counts anew. No part of a
               capture, and no replay needs it
"""

from __future__ import annotations

from sqlite_utils import Database, Migrations

APPLICATION_ID = 0x4E546B72
"""Marks a SQLite file as one of our stores ("NTkr")."""

MIGRATIONS = Migrations("numbertaker")

_KEPT = """
CREATE TRIGGER {table}_are_not_{done} BEFORE {verb} ON {table}
BEGIN SELECT RAISE(ABORT, 'what is in the journal stays as it is'); END
"""


@MIGRATIONS(name="1-journal")
def _journal(db: Database) -> None:
    db.conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    db.table("store").create(
        {"id": int, "railway": str, "t": float, "wall": float}, pk="id", not_null=("railway", "t", "wall"), strict=True
    )
    db.table("sessions").create(
        {"id": int, "t": float, "wall": float, "after_end": int}, pk="id", not_null=("t", "wall", "after_end"), strict=True
    )
    session = [("session", "sessions", "id")]
    db.table("folders").create(
        {"session": int, "file": str, "content": bytes},
        pk=("session", "file"),
        foreign_keys=session,
        not_null=("content",),
        strict=True,
    )
    db.table("records").create(
        {"session": int, "n": int, "t": float, "line": str},
        pk=("session", "n"),
        foreign_keys=session,
        not_null=("t", "line"),
        strict=True,
    )
    db.table("deadlines").create(
        {"id": int, "session": int, "after_n": int, "t": float},
        pk="id",
        foreign_keys=session,
        not_null=("session", "after_n", "t"),
        strict=True,
    )
    db.table("deadlines").create_index(["session", "after_n"])
    for table in ("sessions", "folders", "records", "deadlines"):
        _keep(db, table)


@MIGRATIONS(name="2-clock-steps")
def _clock_steps(db: Database) -> None:
    db.table("clock_steps").create(
        {"id": int, "session": int, "after_n": int, "t": float, "before": float, "after": float, "running": int},
        pk="id",
        foreign_keys=[("session", "sessions", "id")],
        not_null=("session", "after_n", "t", "before", "after", "running"),
        strict=True,
    )
    _keep(db, "clock_steps")


@MIGRATIONS(name="3-deliveries")
def _deliveries(db: Database) -> None:
    db.table("deliveries").create(
        {"session": int, "n": int, "packet": int},
        pk=("session", "n"),
        foreign_keys=[("session", "sessions", "id")],
        not_null=("packet",),
        strict=True,
    )
    _keep(db, "deliveries")


@MIGRATIONS(name="4-learned")
def _learned(db: Database) -> None:
    db.table("learned").create(
        {"session": int, "text": str},
        pk="session",
        foreign_keys=[("session", "sessions", "id")],
        not_null=("text",),
        strict=True,
    )
    _keep(db, "learned")


def _keep(db: Database, table: str) -> None:
    for verb, done in (("UPDATE", "changed"), ("DELETE", "removed")):
        db.conn.execute(_KEPT.format(table=table, verb=verb, done=done))
