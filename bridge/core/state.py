"""What the fold remembers.

Rule: only the fold writes it. Everything here can be rebuilt from the journal.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.plan import Railway


@dataclass
class State:
    """One session's state, made fresh and filled by `FolderTaken` first."""

    railway: Railway | None = None


def fresh() -> State:
    """A state that knows nothing yet."""
    return State()
