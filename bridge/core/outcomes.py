"""What the core says, as values that turn into the JSON objects of the contract.

Rule: every key of a row is present; one that does not apply is None, a list empty. Only `happened` and the subject keys
of other irregularity kinds are left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Outcome:
    """One thing said. `n` counts from 1 in the session; `t` is host seconds; `keys` are the further keys of its row."""

    n: int
    t: float
    clock: str | None
    says: str
    evidence: tuple[int, ...]
    keys: Mapping[str, Any] = field(default_factory=dict)
    happened: float | None = None

    def as_dict(self) -> dict[str, Any]:
        """The outcome as the contract has it, ready for JSON."""
        row: dict[str, Any] = {"n": self.n, "t": self.t, "clock": self.clock, "says": self.says, **self.keys}
        row["evidence"] = list(self.evidence)
        if self.happened is not None:
            row["happened"] = self.happened
        return row
