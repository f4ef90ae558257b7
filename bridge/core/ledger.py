"""The one ledger: what is claimed now, held against what has been said; it says the difference.

Rule: each thing is said once. An irregularity has one open item a cause, is updated in place, and ends when nothing
claims it any more. A statement found wrong is named in a `corrected`, and what stands instead follows as a statement of
its own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from bridge.core.irregularities import KINDS
from bridge.core.outcomes import Outcome


@dataclass(frozen=True, slots=True)
class Claim:
    """What a rule holds true now.

    `cause` names the one event behind it: another event is another item. `follows` is the cause of the irregularity that it
    follows from. `keys` are the subject keys of its kind.
    """

    kind: str
    cause: str
    keys: Mapping[str, Any]
    text: str
    do: str
    because: tuple[str, ...] = ()
    evidence: tuple[int, ...] = ()
    level: str | None = None
    follows: str | None = None
    happened: float | None = None


@dataclass(slots=True)
class Item:
    """One irregularity that has been said, open or ended. `numbers`: those of all that was said of it, in order;
    `withdrawn`: all of that was corrected, for it was never true."""

    id: str
    claim: Claim
    cause: str | None
    t: float
    clock: str | None
    numbers: list[int] = field(default_factory=list)
    open: bool = True
    withdrawn: bool = False
    acknowledged: bool = False
    explained: str | None = None
    verdict: str | None = None


@dataclass(slots=True)
class Recall:
    """What irregularities were called when the same past was told before: cause, what it is about, and name of each."""

    rows: list[tuple[str, str, str]]

    @classmethod
    def of(cls, items: Mapping[str, Item], without: Mapping[str, Item]) -> Recall:
        """The names of items that came up since, in the order in which they did."""
        return cls([(cause, _subject(item.claim), item.id) for cause, item in items.items() if cause not in without])

    def take(self, claim: Claim) -> str | None:
        """The name of the item that this claim was before, by its cause or else its subject; each is given once."""
        subject = _subject(claim)
        alike = [row for row in self.rows if row[0] == claim.cause] or [row for row in self.rows if row[1] == subject]
        if not alike:
            return None
        self.rows.remove(alike[0])
        return alike[0][2]


@dataclass
class Ledger:
    """Everything said in a session, and the pen that writes more. The fold sets `t` and `clock` before each event.

    `same`: numbers under which a statement was written while the past was told again, and the number it has been said by.
    """

    t: float = 0.0
    clock: str | None = None
    silent: bool = False
    n: int = 0
    items: dict[str, Item] = field(default_factory=dict)
    by_id: dict[str, str] = field(default_factory=dict)
    claimed: dict[tuple[str, str], tuple[str, ...]] = field(default_factory=dict)
    counts: Counter[str] = field(default_factory=Counter)
    opened: int = 0
    written: list[Outcome] = field(default_factory=list)
    same: dict[int, int] = field(default_factory=dict)
    recall: Recall | None = None

    def say(
        self, says: str, keys: Mapping[str, Any], evidence: Iterable[int | None] = (), happened: float | None = None
    ) -> int:
        """Say one thing; its number (0 while the ledger is silent)."""
        if self.silent:
            return 0
        self.n += 1
        known = tuple(sorted({n for n in evidence if n is not None}))
        self.written.append(Outcome(self.n, round(self.t, 6), self.clock, says, known, dict(keys), happened))
        return self.n

    def correct(self, n: int | None, why: str, evidence: Iterable[int | None] = ()) -> None:
        """An earlier statement is no longer held true; nothing where it was never said."""
        if n:
            self.say("corrected", {"of": self.same.get(n, n), "why": why}, evidence)

    def repeat(self, said: Outcome, evidence: Iterable[int | None] = ()) -> int:
        """Say now what another telling of the past said at its own time, by the number that it has from now on."""
        happened = round(said.t, 6) if said.happened is None else said.happened
        self.same[said.n] = n = self.say(said.says, said.keys, (*said.evidence, *evidence), happened)
        return n

    def reconcile(self, rule: str, subject: str, claims: Iterable[Claim]) -> None:
        """Hold what a rule claims of one subject against what it claimed before."""
        now = {claim.cause: claim for claim in claims}
        for cause in self.claimed.get((rule, subject), ()):
            if cause not in now:
                self._end(cause)
        for cause, claim in now.items():
            item = self.items.get(cause)
            if item is None or not item.open:
                if item is None:
                    self._open(claim)
            elif differs(item.claim, claim):
                item.claim = claim
                self._write(item)
        kept = tuple(cause for cause in now if cause in self.items and self.items[cause].open)
        if kept:
            self.claimed[(rule, subject)] = kept
        else:
            self.claimed.pop((rule, subject), None)

    def withdraw(self, cause: str, why: str, evidence: Iterable[int | None] = ()) -> None:
        """An irregularity was never true: it is corrected, and ends."""
        item = self.items.get(cause)
        if item is not None and item.open:
            item.open, item.withdrawn = False, True
            for n in item.numbers:
                self.correct(n, why, evidence)

    def find(self, item_id: str) -> Item | None:
        """The item with this id."""
        cause = self.by_id.get(item_id)
        return None if cause is None else self.items[cause]

    def rewrite(self, item: Item) -> None:
        """Say an item again as it stands now (an operator has spoken to it)."""
        self._write(item)

    def drain(self) -> tuple[Outcome, ...]:
        """What has been said since last asked."""
        found, self.written = tuple(self.written), []
        return found

    def _open(self, claim: Claim) -> None:
        if self.silent:
            return
        parent = self.items.get(claim.follows) if claim.follows is not None else None
        name = None if self.recall is None else self.recall.take(claim)
        if name is None:
            self.opened += 1
            self.counts[claim.kind] += 1
            name = f"i{self.opened}"
        item = Item(name, claim, parent.id if parent else None, self.t, self.clock)
        self.items[claim.cause] = item
        self.by_id[item.id] = claim.cause
        self._write(item)

    def _end(self, cause: str) -> None:
        item = self.items.get(cause)
        if item is not None and item.open:
            item.open = False
            self._write(item)
            for child in [i for i in self.items.values() if i.open and i.cause == item.id]:
                self._end(child.claim.cause)

    def _write(self, item: Item) -> None:
        claim = item.claim
        keys: dict[str, Any] = {
            "id": item.id,
            "kind": claim.kind,
            "level": claim.level or KINDS[claim.kind].level,
            "status": "open" if item.open else "ended",
            "text": claim.text,
            "do": claim.do,
            "because": list(claim.because),
            "cause": item.cause,
            "explained": item.explained,
            **claim.keys,
        }
        item.numbers.append(self.say("irregularity", keys, claim.evidence, claim.happened))


def _subject(claim: Claim) -> str:
    return f"{claim.kind} {sorted((key, str(value)) for key, value in claim.keys.items())}"


def differs(one: Claim, other: Claim) -> bool:
    """True where a reader would want to be told again; growing evidence alone is no news."""
    return (
        one.keys != other.keys
        or one.text != other.text
        or one.do != other.do
        or one.because != other.because
        or one.level != other.level
    )
