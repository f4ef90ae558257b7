"""What a piece of evidence proves of the vehicles whose places it settles.

Rule: only what was itself read, or looked at, is seen or told; of everything else it is the kind of proof that it names.
"""

from __future__ import annotations

from typing import NamedTuple


class Mark(NamedTuple):
    """Why a vehicle is held to be where it is: the kind of proof as the contract names it, and its journal numbers."""

    by: str
    evidence: tuple[int, ...]


class Proof(NamedTuple):
    """A piece of evidence that was weighed: when, its journal number, the vehicle that was itself seen, if one was, and the
    kind of proof that it is for all others whose place it changes."""

    t: float
    n: int | None
    seen: str | None
    by: str

    def mark(self, vehicle: str) -> Mark:
        """What it is for one vehicle."""
        by = ("told" if self.by == "told" else "seen") if vehicle == self.seen else self.by
        return Mark("order" if by == "told" and vehicle != self.seen else by, () if self.n is None else (self.n,))
