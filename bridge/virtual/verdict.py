"""What the bridge said, held against what really happened.

Rule: only what stands counts (a `corrected` takes back), and an expected irregularity is found when its kind and every key
of its subject are right and it was said in time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

ALLOWED_S = 2.0  # so much later than due, or earlier than it shows, is still in time
FORETOLD = ("overfull-road", "road-blocked")  # these may be said long before

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Found:
    """An expected irregularity, and how many seconds after it was due it was said; None where it never was."""

    kind: str
    subject: Mapping[str, Any]
    after_due_s: float | None

    @property
    def is_in_time(self) -> bool:
        """Whether it was said, and in time."""
        return self.after_due_s is not None and self.after_due_s <= ALLOWED_S


@dataclass(frozen=True, slots=True)
class Verdict:
    """How one evening was judged. `misplaced`: vehicle to where it stands and where it is said to stand."""

    expected: tuple[Found, ...]
    besides: tuple[Row, ...]
    misplaced: Mapping[str, tuple[str, str | None]] = field(default_factory=dict)
    vehicles: int = 0


def held_against(truth: Row, outcomes: Sequence[Row], shift_s: float = 0.0) -> Verdict:
    """Hold outcomes (rows of the contract) against the content of a truth file.

    `shift_s` is added to the truth's seconds where the host's clock began at another moment.
    """
    standing = _standing(outcomes)
    items: dict[str, list[Row]] = {}
    for row in standing:
        if row["says"] == "irregularity":
            items.setdefault(row["id"], []).append(row)
    used: set[str] = set()
    found = tuple(_find(expected, items, used, shift_s) for expected in truth["expected"])
    may_follow = {kind for expected in truth["expected"] for kind in expected["may_follow"]}
    besides = [
        rows[0]
        for key, rows in items.items()
        if key not in used and rows[0]["kind"] not in may_follow and not any(row["cause"] in used for row in rows)
    ]
    last = {row["vehicle"]: row["place"] for row in standing if row["says"] == "whereabouts"}
    misplaced = {
        vehicle: (where["place"], last.get(vehicle))
        for vehicle, where in truth["vehicles"].items()
        if last.get(vehicle) not in (where["place"], *where["fouls"])
    }
    return Verdict(found, tuple(besides), misplaced, len(truth["vehicles"]))


def _standing(outcomes: Sequence[Row]) -> list[Row]:
    void = {row["of"]: n for n, row in enumerate(outcomes) if row["says"] == "corrected"}
    return [row for n, row in enumerate(outcomes) if void.get(row["n"], -1) <= n]


def _find(expected: Row, items: Mapping[str, Sequence[Row]], used: set[str], shift_s: float) -> Found:
    """The first item of the kind and subject that was said once it showed; its id is noted in `used`."""
    kind, subject = expected["kind"], expected["subject"]
    shows_t, due_t = expected["evidence_t"], expected["due_t"]
    for key, rows in items.items():
        for row in rows:
            early = shows_t is None or (kind not in FORETOLD and row["t"] < shows_t + shift_s - ALLOWED_S)
            if row["kind"] == kind and key not in used and not early and _is_of(subject, row):
                used.add(key)
                return Found(kind, subject, None if due_t is None else row["t"] - due_t - shift_s)
    return Found(kind, subject, None)


def _is_of(subject: Row, row: Row) -> bool:
    return all(
        sorted(row.get(key) or []) == sorted(want) if isinstance(want, list) else row.get(key) == want
        for key, want in subject.items()
    )
