"""The journal: one SQLite file a railway (a *store*), its sessions one behind the other, every line in the order it came.

Rule: append-only, one writer, committed before anybody sees it, but while the page says in red that the disk takes nothing.
Everything else is derived from it.
"""

from bridge.journal.backup import BackupError, back_up
from bridge.journal.gaps import Gap, gaps
from bridge.journal.reading import ClockStep, Delivered, Moment, Reader, Session
from bridge.journal.refusals import NotWrittenError, StoreError
from bridge.journal.writing import Journal, Opening, Page, line_of

__all__ = [
    "BackupError",
    "ClockStep",
    "Delivered",
    "Gap",
    "Journal",
    "Moment",
    "NotWrittenError",
    "Opening",
    "Page",
    "Reader",
    "Session",
    "StoreError",
    "back_up",
    "gaps",
    "line_of",
]
