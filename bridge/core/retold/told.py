"""What operators have told lately: the words, who told them, what was answered, and what has been taken back since.

Rule: this is an account of what was told, and no part of what follows from it: where the past is told again, it stays.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from bridge.core.operator import words

if TYPE_CHECKING:
    from bridge.core.state import State

MOST = 30


@dataclass(slots=True)
class Told:
    """One word: its journal number, host second, session clock, and who told it where that is known. `about`: the vehicles
    in it; `is_near`: the past can still be told again from before it; `back`: which undo took it back, and whose that was.
    """

    n: int
    t: float
    clock: str | None
    who: str | None
    words: str
    about: tuple[str, ...]
    answer: str
    is_near: bool
    back: tuple[int, str | None] | None = None


@dataclass(slots=True)
class ToldLately:
    """The last words told, by journal number."""

    rows: dict[int, Told] = field(default_factory=dict)

    def add(self, row: Told) -> None:
        """One word more."""
        self.rows[row.n] = row
        while len(self.rows) > MOST:
            del self.rows[next(iter(self.rows))]

    def move_away(self, n: int) -> None:
        """The past can no longer be told again from before this journal number."""
        if n in self.rows:
            self.rows[n].is_near = False

    def take_back(self, earlier: int, n: int, who: str | None) -> None:
        """An undo has taken a word back."""
        if earlier in self.rows:
            self.rows[earlier].back = (n, who)


def about(told: words.Word) -> tuple[str, ...]:
    """The vehicles that a word is about."""
    match told:
        case words.Stands(vehicle) | words.Lifts(_, vehicle) | words.SetsOut(_, vehicle) | words.Engine(_, vehicle):
            return (vehicle,)
        case words.Tag(tags):
            return tuple(dict.fromkeys(vehicle for _, vehicle in tags if vehicle is not None))
        case _:
            return ()


def can_undo(state: State, row: Told) -> bool:
    """True where a word can still be taken back."""
    return can_be_unsaid(state, row) or (row.back is None and row.n in state.undos)


def can_be_unsaid(state: State, row: Told) -> bool:
    """True where the past can be told again without a word. The clock stood, or went, for everybody to see: that is put
    right from now on; and a session has begun or ended for everybody too."""
    lasting = words.Begin | words.End | words.StopClock | words.GoOn | words.Misword
    return row.is_near and row.back is None and bool(state.past.kept) and not isinstance(words.parse(row.words), lasting)
