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


class Door(Protocol):
    """The service as the dashboard sees it. Every method may be called from any thread and returns at once."""

    def latest(self) -> Shown:
        """The newest picture."""

    def subscribe(self, callback: Callable[[Shown], None]) -> Callable[[], None]:
        """Have every new picture handed to `callback`, in the service's thread; what is returned ends it."""

    def tell(self, words: str, who: str | None) -> Future[Answer]:
        """Hand over an operator's words; the answer comes when they are journalled, or refused."""
