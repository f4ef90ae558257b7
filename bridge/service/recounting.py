"""A session of a store told again: its folder, its records, and what was said of them.

Rule: outcomes are not stored; they follow from the journal by the same fold as in the live session.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bridge.core.events import Journalled
from bridge.core.learned import Learned
from bridge.core.outcomes import Outcome
from bridge.core.plan import Railway
from bridge.folder import read
from bridge.journal import Reader, Session, StoreError
from bridge.service.core import CORE
from bridge.service.folding import Core, Evening


@dataclass(frozen=True)
class Recounted:
    """One session: the railway in force, its journal, and its outcomes, closed at the last record where it has no end; and
    what it knew from the sessions before."""

    session: Session
    railway: Railway
    records: Sequence[Journalled]
    outcomes: Sequence[Outcome]
    known: Learned | None = None


def recount(reader: Reader, session: Session, core: Core = CORE) -> Recounted:
    """Tell a session again, as many of its lines as `session` knows.

    Raises StoreError where the store cannot be read, FoldError where the core fails.
    """
    railway, evening = at_its_beginning(reader, session, core)
    records = tuple(reader.records(session.id, session.lines))
    outcomes = [outcome for journalled in records for outcome in evening.follow(journalled.record)]
    if not evening.is_over:
        outcomes += evening.close()
    return Recounted(session, railway, records, tuple(outcomes), evening.known)


def at_its_beginning(reader: Reader, session: Session, core: Core = CORE) -> tuple[Railway, Evening]:
    """The railway in force in a session, and the session as it was before its first line. Raises StoreError."""
    folder = read(reader.folder(session.id))
    if folder.railway is None:
        finding = folder.findings[0]
        raise StoreError(
            f"The railway folder of session {session.id} can no longer be read: "
            f"{finding.file}:{finding.line}: {finding.message} {finding.remedy}"
        )
    return folder.railway, Evening(core, folder.railway, session.after_end, reader.learned(session.id))
