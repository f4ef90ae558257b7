"""`numbertaker backup`: a copy of a store, also while a service writes to it.

Rule: it is proved before it is called a backup: whole, line by line the beginning of the store, and told again it says the
same.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from bridge.cli.printing import complain
from bridge.core.outcomes import Outcome
from bridge.journal import BackupError, Reader, Session, StoreError, back_up
from bridge.service.folding import FoldError
from bridge.service.recounting import recount

HELP = "a copy of a store, proved; also while a service writes to it"
EPILOG = """example:
  numbertaker backup my-railway/example.store /media/stick/example.store
  numbertaker backup my-railway/example.store /media/stick/example.store --replace

The copy is whole when it has its name, and what stood there before stays until then. To go on from it:
  numbertaker run my-railway --store /media/stick/example.store
Exit status: 1 where no backup was made, 2 on wrong usage."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "backup", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("store", metavar="STORE", type=Path, help="the store in which `numbertaker run` keeps its journal")
    parser.add_argument("file", metavar="FILE", type=Path, help="the copy, best on another disk")
    parser.add_argument("--replace", action="store_true", help="put it in place of a file of that name")
    parser.add_argument("--all", action="store_true", help="tell every session again to prove it, not the last one only")
    parser.set_defaults(run=run)


@dataclass(frozen=True)
class Proof:
    """What was proved of a copy: how much is in it, and of which sessions the outcomes were compared."""

    sessions: int
    lines: int
    told: tuple[int, ...]
    outcomes: int


def run(arguments: argparse.Namespace) -> int:
    """Make a backup; 1 where that cannot be."""

    def prove(copy: Reader, original: Reader) -> Proof:
        return proved(copy, original, every=arguments.all)

    try:
        proof = back_up(arguments.store, arguments.file, prove, replace=arguments.replace)
    except (BackupError, StoreError) as error:
        complain("backup", str(error))
        return 1
    told = "".join(f"; session {number} told again says the same" for number in proof.told[-1:])
    if len(proof.told) > 1:
        told = "; every session told again says the same"
    size = arguments.file.stat().st_size / 1e6
    print(f"{arguments.file}: sessions {proof.sessions}, lines {proof.lines:,}, {size:,.1f} MB.")
    print(f"Proved: whole; line by line the beginning of {arguments.store}{told} ({proof.outcomes:,} outcomes).")
    return 0


def proved(copy: Reader, original: Reader, every: bool) -> Proof:
    """Tell the last session again from the copy and from the store, or all. Raises BackupError where they differ."""
    sessions = copy.sessions()
    chosen = sessions if every else sessions[-1:]
    count = 0
    for session in chosen:
        said = _told(copy, session)
        if said != _told(original, session):
            raise BackupError(f"Session {session.id} says otherwise when told from the copy: no backup was made.")
        count += len(said)
    lines = sum(session.lines for session in sessions)
    return Proof(len(sessions), lines, tuple(session.id for session in chosen), count)


def _told(reader: Reader, session: Session) -> Sequence[Outcome | str]:
    """What a session says; where it cannot be told, why: that too has to be the same."""
    try:
        return recount(reader, session).outcomes
    except FoldError as error:
        return (str(error),)
