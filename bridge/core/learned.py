"""What a session has learned of readers and tags, as the next one begins with it.

Rule: it is a value that is written down as text and read back the same, so that a session told again begins as it began.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import isfinite
from typing import Any

from bridge.core.drawn import Drawn, as_json, from_json

LEARNED = "# learned "
"""With this the line of a capture begins that says what its session began with."""

Counts = Mapping[str, tuple[float, float]]
"""Passages (read, unread) by boundary, or by vehicle."""


@dataclass(frozen=True, slots=True)
class Learned:
    """Passages at readers, by boundary, and of tags, by vehicle; stations that are drawn otherwise than by themselves."""

    readers: Counts
    tags: Counts
    drawn: Mapping[str, Drawn] = field(default_factory=dict)

    def as_text(self) -> str:
        """One line, in which equal things are written alike."""
        found: dict[str, Any] = {"readers": self.readers, "tags": self.tags}
        if self.drawn:
            found["drawn"] = as_json(self.drawn)
        return json.dumps(found, sort_keys=True, separators=(",", ":"))

    @classmethod
    def from_text(cls, text: str) -> Learned:
        """What `as_text` wrote. Raises ValueError where that cannot be read."""
        found = json.loads(text)
        if not isinstance(found, dict) or set(found) - {"drawn"} != {"readers", "tags"}:
            raise ValueError("it has to hold readers and tags")
        return cls(_counts(found["readers"]), _counts(found["tags"]), from_json(found.get("drawn", {})))


def _counts(found: Any) -> Counts:
    if not isinstance(found, dict) or not all(_is_pair(pair) for pair in found.values()):
        raise ValueError("each reader and tag has to have two numbers, of 0 or more")
    return {subject: (float(read), float(unread)) for subject, (read, unread) in found.items()}


def _is_pair(pair: Any) -> bool:
    return isinstance(pair, list) and len(pair) == 2 and all(_is_count(number) for number in pair)


def _is_count(number: Any) -> bool:
    return isinstance(number, int | float) and not isinstance(number, bool) and isfinite(number) and number >= 0
