"""What became of every booked move.

Rule: every row of the plan appears, in its order, whatever was said of it. Its state is the last that still stands; a
vehicle booked twice from and to the same roads is told row by row, the next one when the one before is finished.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.audit.account import Account, Row
from bridge.audit.names import surely
from bridge.core.plan import Move

FINAL = frozenset({"done", "failed", "carried-over"})
PLAIN = {
    "booked": "not begun",
    "in-train": "in the train",
    "done": "done",
    "failed": "failed",
    "carried-over": "carried over",
}


@dataclass(frozen=True, slots=True)
class MoveTold:
    """A booked move and what became of it: `state` is the word of its last outcome `last`; both None where none was said."""

    move: Move
    state: str | None
    train: str | None
    sure: float | None
    last: Row | None

    @property
    def words(self) -> str:
        """Its end as people say it."""
        if self.state is None:
            return "nothing is known of it"
        return surely(self.sure, PLAIN.get(self.state, self.state))


def moves(account: Account) -> tuple[MoveTold, ...]:
    """Every move of the plan with its end."""
    last: dict[int, Row] = {}
    for row in account.standing:
        if row["says"] == "move":
            index = _belongs_to(account.railway.moves, row, last)
            if index is not None:
                last[index] = row
    told: list[MoveTold] = []
    for move in account.railway.moves:
        said = last.get(move.index)
        if said is None:
            told.append(MoveTold(move, None, move.working, None, None))
        else:
            told.append(MoveTold(move, said["state"], said["train"] or move.working, said["sure"], said))
    return tuple(told)


def _belongs_to(plan: tuple[Move, ...], row: Row, last: dict[int, Row]) -> int | None:
    ends = (row["vehicle"], row["from"], row["to"])
    rows = [move for move in plan if (move.vehicle, move.from_road, move.to_road) == ends]
    unfinished = [m for m in rows if m.index not in last or last[m.index]["state"] not in FINAL]
    if row["state"] == "booked":
        unfinished = [m for m in unfinished if m.index not in last] or unfinished
    chosen = unfinished or rows[-1:]
    return chosen[0].index if chosen else None
