"""What the railway and the bridge share in a trial: the clock, when each line was said, which has reached the bridge last.

Rule: the railway alone turns the clock and says when a line was said, the bridge alone notes lines; a kill leaves all of it.
"""

from __future__ import annotations

import mmap
import struct
from hashlib import blake2b
from pathlib import Path

HEAD, SLOTS, SLOT = 16, 1 << 16, 16


class Shared:
    """A file of all that, made where there is none."""

    def __init__(self, path: Path) -> None:
        if not path.exists():
            path.write_bytes(bytes(HEAD + SLOTS * SLOT))
        self.path = path
        with path.open("r+b") as file:
            self._map = mmap.mmap(file.fileno(), HEAD + SLOTS * SLOT)

    @property
    def t(self) -> float:
        """Seconds of the clock."""
        return float(struct.unpack("d", self._map[:8])[0])

    def turn_to(self, t: float) -> None:
        """Let it be so late, unless it is later already."""
        self._map[:8] = struct.pack("d", max(t, self.t))

    def said(self, mark: bytes) -> None:
        """The line of this mark is said now."""
        at = _place_of(mark)
        self._map[at : at + SLOT] = mark + struct.pack("d", self.t)

    def when_said(self, mark: bytes) -> float:
        """When that was; now, where it was too long ago to be known."""
        at = _place_of(mark)
        is_known = self._map[at : at + 8] == mark
        return float(struct.unpack("d", self._map[at + 8 : at + SLOT])[0]) if is_known else self.t

    def reached(self, mark: bytes) -> None:
        """A line has reached the bridge."""
        self._map[8:HEAD] = mark

    @property
    def last_reached(self) -> bytes:
        """The mark of the last line that did."""
        return self._map[8:HEAD]


def mark_of(line: bytes) -> bytes:
    """Eight bytes that stand for a line."""
    return blake2b(line, digest_size=8).digest()


def _place_of(mark: bytes) -> int:
    return HEAD + int.from_bytes(mark[:2], "big") * SLOT
