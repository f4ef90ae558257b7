"""`numbertaker capture`: the journal of a session as a capture, what a friend needs to help.

Rule: every line of the journal, in order; also while a service writes to the store. What a session began with of what
earlier ones have learned stands before its lines, as a comment that `numbertaker replay` reads.
"""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from bridge.cli.printing import Printer, complain, printed
from bridge.core.learned import LEARNED
from bridge.journal import Reader, Session, StoreError

HELP = "print the journal of a session as a capture"
EPILOG = """example:
  numbertaker capture my-railway/example.store > evening.capture
  numbertaker capture my-railway/example.store 2 > second.capture
  numbertaker capture my-railway/example.store all > everything.capture

Without SESSION it is the last one that was begun. A capture is a text file; it replays to the same register.
Exit status: 1 where the store cannot be read or has no such session, 2 on wrong usage."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "capture", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("store", metavar="STORE", type=Path, help="the store in which `numbertaker run` keeps its journal")
    parser.add_argument("session", metavar="SESSION", nargs="?", type=session_word, help='its number, or "all"')
    parser.set_defaults(run=run)


def session_word(text: str) -> int | str:
    """A session's number, or "all"; for argparse."""
    if text == "all":
        return text
    if text.isascii() and text.isdigit():
        return int(text)
    raise argparse.ArgumentTypeError(f'"{text}" is neither the number of a session nor "all"')


def run(arguments: argparse.Namespace) -> int:
    """Print the sessions that were asked for; 1 where that cannot be."""
    try:
        with Reader.open(arguments.store) as reader, printed():
            printer = Printer()
            for session in chosen(reader, arguments.session):
                began = datetime.fromtimestamp(session.began.wall, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
                printer.line(f"# {reader.railway}, session {session.id}, opened {began}")
                known = reader.learned(session.id)
                if known is not None:
                    printer.line(f"{LEARNED}{known.as_text()}")
                for line in reader.lines(session.id):
                    printer.line(line)
    except StoreError as error:
        complain("capture", str(error))
        return 1
    return 0


def chosen(reader: Reader, word: int | str | None) -> tuple[Session, ...]:
    """The sessions that are meant: by number, "all", or None for the last that was begun (the last where none was).

    Raises StoreError where there is none.
    """
    sessions = reader.sessions()
    if not sessions:
        raise StoreError("There is no session in this store yet.")
    if word == "all":
        return sessions
    if word is None:
        begun = reader.begun()
        return tuple(session for session in sessions if session.id == (begun[-1] if begun else sessions[-1].id))
    found = tuple(session for session in sessions if session.id == word)
    if not found:
        raise StoreError(f"There is no session {word} in this store; it has 1 to {sessions[-1].id}.")
    return found
