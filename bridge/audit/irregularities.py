"""What went wrong in a session: one entry a cause, with how it began, how it ended and what it rested on.

Rule: an irregularity is told as it was last said; what followed from it stands under it; one that was corrected altogether
stays in the list, marked.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from bridge.audit.account import Account, Correction, Row

LEVELS = ("danger", "caution", "note")


@dataclass(slots=True)
class IrregularityTold:
    """One irregularity: `begun` is its first outcome, `last` the last that stands (its very last where none does),
    `evidence` journal numbers, `level` its highest, `withdrawn` why none stands, `followed` those that it caused."""

    id: str
    begun: Row
    last: Row
    ended: Row | None = None
    evidence: set[int] = field(default_factory=set)
    withdrawn: Correction | None = None
    level: str = "note"
    followed: list[IrregularityTold] = field(default_factory=list)


def irregularities(account: Account) -> tuple[IrregularityTold, ...]:
    """The irregularities that follow from no other, dangers first, then in the order in which they began."""
    told: dict[str, IrregularityTold] = {}
    for row in account.outcomes:
        if row["says"] == "irregularity":
            _take(account, told, row)
    first: list[IrregularityTold] = []
    for item in told.values():
        cause = told.get(item.last["cause"]) if item.last["cause"] is not None else None
        followed = first if cause is None or cause is item else cause.followed
        followed.append(item)
    first.sort(key=lambda item: LEVELS.index(item.level))
    return tuple(first)


def _take(account: Account, told: dict[str, IrregularityTold], row: Row) -> None:
    item = told.setdefault(row["id"], IrregularityTold(row["id"], row, row))
    item.evidence.update(row["evidence"])
    correction = account.corrections.get(row["n"])
    if correction is not None:
        if item.last is row or item.withdrawn is not None:
            item.last, item.withdrawn = row, correction
        return
    item.last, item.withdrawn = row, None
    item.ended = row if row["status"] == "ended" else None
    levels = [level for level in LEVELS if level in (row["level"], item.level)]
    item.level = levels[0] if levels else "note"


@dataclass(frozen=True, slots=True)
class KindCount:
    """How often one kind was said, how often that was taken back, and what operators judged it to be."""

    kind: str
    said: int
    withdrawn: int
    real: int
    false: int
    mine: int


def by_kind(account: Account, items: tuple[IrregularityTold, ...]) -> tuple[KindCount, ...]:
    """The irregularities counted by kind, the most frequent first."""
    kinds: dict[str, list[IrregularityTold]] = {}
    for item in every(items):
        kinds.setdefault(str(item.last["kind"]), []).append(item)
    rows = []
    for kind, held in kinds.items():
        judged = Counter(account.verdicts.get(item.id) for item in held)
        withdrawn = sum(item.withdrawn is not None for item in held)
        rows.append(KindCount(kind, len(held), withdrawn, judged["real"], judged["false"], judged["mine"]))
    return tuple(sorted(rows, key=lambda row: (-row.said, row.kind)))


def every(items: tuple[IrregularityTold, ...] | list[IrregularityTold]) -> Iterator[IrregularityTold]:
    """Each irregularity and all that followed from it."""
    for item in items:
        yield item
        yield from every(item.followed)
