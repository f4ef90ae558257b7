"""`numbertaker handover`: what a session that has ended hands over to the next, shown, and written down once agreed to.

Rule: nothing is written before it has been shown: the token that agrees to it stands below what it agrees to.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from bridge.cli.folders import taken
from bridge.cli.printing import complain, printed
from bridge.folder import FolderRead, load
from bridge.journal import StoreError
from bridge.journal.store import WriterLock
from bridge.service.folding import FoldError
from bridge.service.handover import Handover

HELP = "after a session: where everything stands and the moves left undone, written down for the next one"
EPILOG = """example:
  numbertaker handover my-railway
  numbertaker handover my-railway --agree 3f9c02d1b7aa

Shows where everything stands at the end of the last session, what is uncertain first, what would change in whereabouts.csv,
and the moves left undone. Nothing is written before you agree, with the token that stands below; it is good for what it
stands below and for nothing else. The old file is kept beside the new one, dated; moves go to "moves next.csv".
While `numbertaker run` serves the railway, agree on its page. To settle what is uncertain there: `stands VEHICLE PLACE`.
Exit status: 1 where nothing can be written, 2 on wrong usage."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "handover", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder in which railway.toml stands")
    parser.add_argument(
        "--store", metavar="FILE", type=Path, help="where the journal is kept; else in FOLDER, RAILWAY.store"
    )
    parser.add_argument("--agree", metavar="TOKEN", help="write down what was shown above this token")
    parser.add_argument("--json", action="store_true", help="one object, for programs")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Show what there is to write down, or write it; 1 where that cannot be."""
    read = load(arguments.folder)
    if read.railway is None:
        taken(arguments.folder)  # which says what is wrong with it
        return 1
    try:
        after = Handover(arguments.folder, _store(arguments, read))
        return _agreed(after, arguments.agree) if arguments.agree is not None else _shown(after, arguments.json)
    except (StoreError, FoldError) as error:
        complain("handover", str(error))
        return 1


def _store(arguments: argparse.Namespace, read: FolderRead) -> Path:
    assert read.railway is not None
    store: Path = arguments.store or arguments.folder / f"{read.railway.plant.id}.store"
    return store


def _agreed(after: Handover, token: str) -> int:
    """Write it, while no service can begin a session on what is being written over."""
    if not after.store.is_file():
        raise StoreError(f"There is no store {after.store}. `numbertaker run FOLDER` makes one and says where it is.")
    held = WriterLock(after.store)
    try:
        answer = after.agree(token)
    finally:
        held.release()
    if not answer.accepted:
        complain("handover", answer.text)
        return 1
    with printed(to_person=True):
        print(answer.text)
    return 0


def _shown(after: Handover, as_json: bool) -> int:
    offer = after.offer()
    if as_json:
        with printed():
            print(json.dumps(offer))
    elif offer["session"] is not None:
        with printed(to_person=True):
            print("\n".join(_lines(offer)))
    if offer["token"] is None:
        complain("handover", offer["text"])
        return 1
    return 0


def _lines(offer: Mapping[str, Any]) -> Iterator[str]:
    yield f"Session {offer['session']} has ended."
    vehicles = offer["vehicles"]
    yield from _part("Look here first:", [_uncertain(row) for row in vehicles if row["look"]])
    yield from _part("What changes in whereabouts.csv:", [_changed(row) for row in vehicles if row["change"]])
    yield from _part("Moves for next time:", [_move(row) for row in offer["moves"]])
    found = [f"{row['file']}:{row['line']}  {row['level']}  {row['message']}" for row in offer["findings"] if row["new"]]
    yield from _part("What check says of it that it did not say before:", found)
    for name, rows in offer["rows"].items():
        yield from _part(f"{name}:", rows.splitlines())
    if offer["written"]:
        yield "\nAll of it is written down already."
    elif offer["token"] is not None:
        yield f"\nTo write it down: the same command with --agree {offer['token']}"


def _part(heading: str, lines: Sequence[str]) -> Iterator[str]:
    if lines:
        yield f"\n{heading}"
        yield from (f"  {line}" for line in lines)


def _uncertain(row: Mapping[str, Any]) -> str:
    where = row["place"] if row["order"] is None else f"{row['place']}, number {row['order']}"
    return (
        f"{row['vehicle']}: {where}, sure {row['sure']:.2f}, {row['by']}. Settle it: stands {row['vehicle']} {row['place']}"
    )


def _changed(row: Mapping[str, Any]) -> str:
    was = "" if row["was"] in (None, row["place"]) else f" from {row['was']}"
    return f"{row['vehicle']}: {row['change']}{was}" + ("" if row["order"] is None else f", {row['place']} {row['order']}")


def _move(row: Mapping[str, Any]) -> str:
    working = f", {row['working']}" if row["working"] else ""
    return f"{row['vehicle']}: {row['start']} to {row['end']}{working}" + (f". {row['note']}" if row["note"] else "")
