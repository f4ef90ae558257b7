"""Tags that lie at a reader, or beside it, and are said again and again: one passage, however long that goes on.

Rule: what is said on end for longer than anything passes, or for the third time with short pauses, lies there, and tells
nothing until it has been away. Out and back is told as what it is; so what lies there is believed where it came to.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.whereabouts.weighing.chances import AGAIN_BOTH_S

AWAY_S = 10.0  # what has not been said for so long has been away: a pause in shunting; common practice, no source
PASSES_S = 5.0  # nothing that passes is in the field of a reader for so long
PASSAGES = 3


@dataclass(slots=True)
class _Stay:
    """A tag at a reader: since when it is said on end, when last, and how many passages that would be by now."""

    since_t: float
    t: float
    passages: int = 1


class Lying:
    """What was said of late at each boundary."""

    def __init__(self) -> None:
        self._stays: dict[str, dict[str, _Stay]] = {}

    def lies(self, tag: str, boundary: str, t: float) -> bool:
        """A tag is said at a boundary at host second `t`: true where it has been lying there."""
        stays = self._stays.setdefault(boundary, {})
        for gone in [other for other, stay in stays.items() if stay.t < t - AWAY_S]:
            del stays[gone]
        stay = stays.get(tag)
        if stay is None:
            stays[tag] = _Stay(t, t)
            return False
        lies = stay.passages >= PASSAGES
        if t - stay.t >= AGAIN_BOTH_S:
            stay.passages, stay.since_t = stay.passages + 1, t
        elif t - stay.since_t > PASSES_S:
            stay.passages = max(stay.passages, PASSAGES)
        stay.t = max(stay.t, t)
        return lies
