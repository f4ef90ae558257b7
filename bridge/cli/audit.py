"""`numbertaker audit`: a session afterwards, as papers for people, spreadsheets and other programs.

Rule: nothing in it but what the journal holds and the core says of it; also while a service writes to the store.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from bridge.audit.account import Account
from bridge.audit.papers import papers
from bridge.cli.capture import chosen, session_word
from bridge.cli.printing import Printer, complain, printed
from bridge.journal import ClockStep, Reader, Session, StoreError
from bridge.service.clock import told as tell_step
from bridge.service.folding import FoldError
from bridge.service.recounting import recount

HELP = "write the account of a session: report, register, moves, whereabouts, event logs, capture"
EPILOG = """example:
  numbertaker audit my-railway/example.store
  numbertaker audit my-railway/example.store 2 --out second-evening
  numbertaker audit my-railway/example.store all

Without SESSION it is the last one that was begun. The files stand in a folder beside the store, or in DIR: report.html to
read or print, register.csv, moves.csv and whereabouts.csv for a spreadsheet, session.xes and session.ocel.json for process
mining, session.capture to send to a friend. What an earlier audit wrote there is written anew.
Exit status: 1 where the store cannot be read or the files cannot be written, 2 on wrong usage."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "audit", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("store", metavar="STORE", type=Path, help="the store in which `numbertaker run` keeps its journal")
    parser.add_argument("session", metavar="SESSION", nargs="?", type=session_word, help='its number, or "all"')
    parser.add_argument("--out", metavar="DIR", type=Path, help="the folder for the files; made where there is none")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write the papers of the sessions that were asked for and print their names; 1 where that cannot be."""
    store: Path = arguments.store
    try:
        with Reader.open(store) as reader, printed():
            printer = Printer()
            for session in chosen(reader, arguments.session):
                for path in write(reader, session, folder_for(store, session, arguments.session, arguments.out)):
                    printer.line(str(path))
    except StoreError as error:
        complain("audit", str(error))
        return 1
    except FoldError as error:
        complain("audit", f"{error}. This is an error of the program: please report it with the capture.")
        return 1
    except OSError as error:
        complain("audit", f"{error.filename} cannot be written: {error.strerror}. Name another folder with --out.")
        return 1
    return 0


def folder_for(store: Path, session: Session, asked: int | str | None, out: Path | None) -> Path:
    """Where a session's papers go: the folder named, or one beside the store; of several sessions each has its own."""
    if out is None:
        return store.with_name(f"{store.stem}-session-{session.id}")
    return out / f"session-{session.id}" if asked == "all" else out


def began(wall: float, steps: Sequence[ClockStep]) -> float:
    """When a session began (unix seconds), by the computer's clock as it was last set while the service ran on from then.

    What was found at a later start tells nothing: how long the service was away by then is not known.
    """
    for step in steps:
        if not step.running:
            break
        wall += step.after - step.before
    return wall


def write(reader: Reader, session: Session, folder: Path) -> list[Path]:
    """Write a session's papers into `folder`; their paths. Raises StoreError, FoldError, OSError."""
    told = recount(reader, session)
    steps = [step for _, step in reader.clock_steps(session.id)]
    day = datetime.fromtimestamp(began(session.began.wall, steps)).date()
    host = tuple((step.t, tell_step(step)) for step in steps)
    account = Account(
        told.railway, tuple(outcome.as_dict() for outcome in told.outcomes), told.records, day, host, told.known
    )
    made = papers(account)
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in made.items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    return [folder / name for name in made]
