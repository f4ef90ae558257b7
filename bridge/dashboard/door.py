"""What the dashboard asks of the service: the newest picture, word of each new one, and a way to tell it something.

Rule: the dashboard knows the service by this door alone, and never waits inside the service's thread.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from typing import Any, Protocol


@dataclass(frozen=True, slots=True)
class Shown:
    """One picture: the snapshot of `bridge.core.view`, never changed once shown, and the last 200 outcomes as dicts.

    `version` grows with every picture for as long as the service runs.
    """

    version: int
    snapshot: Mapping[str, Any]
    outcomes: tuple[Mapping[str, Any], ...] = ()


@dataclass(frozen=True, slots=True)
class Answer:
    """What became of an operator's words: taken or not, a sentence for the operator, and their journal number if taken."""

    accepted: bool
    text: str
    n: int | None


@dataclass(frozen=True, slots=True)
class Commits:
    """Writes to the journal since the service began: how many took up to so many seconds, all their seconds, and how long
    ago the last was (None: none yet)."""

    counts: tuple[tuple[float, int], ...]
    seconds: float
    age_s: float | None

    @property
    def total(self) -> int:
        """How many."""
        return sum(count for _, count in self.counts)


@dataclass(frozen=True, slots=True)
class Fitness:
    """How the service itself fares, since it began.

    `loop_age_s`: how long ago its loop last came round. `unkept`: records taken that are not on the disk. `free_bytes` on
    the disk of the store (None: not known). `lines` by link; `rejects` by link and reason; `links`: which are open.
    """

    loop_age_s: float
    turns: int
    records: int
    unkept: int
    free_bytes: int | None
    commits: Commits
    lines: Mapping[str, int]
    rejects: Mapping[tuple[str, str], int]
    links: Mapping[str, bool]


class After(Protocol):
    """What can be written down once a session has ended. It reads the disk: its methods may take seconds."""

    def offer(self) -> Mapping[str, Any]:
        """What would be written, ready for JSON; its `token` is null where nothing can be, and `text` says why."""

    def agree(self, token: str) -> Answer:
        """Write down what was shown under this token, and nothing else."""


class Door(Protocol):
    """The service as the dashboard sees it. Every method may be called from any thread and returns at once."""

    def latest(self) -> Shown:
        """The newest picture."""

    def subscribe(self, callback: Callable[[Shown], None]) -> Callable[[], None]:
        """Have every new picture handed to `callback`, in the service's thread; what is returned ends it."""

    def fitness(self) -> Fitness:
        """How the service itself fares."""

    def tell(self, words: str, who: str | None) -> Future[Answer]:
        """Hand over an operator's words; the answer comes when they are journalled, or refused."""
