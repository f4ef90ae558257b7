"""Every scene by the name of its capture.

Rule: a name that begins with a kind of irregularity raises it, one that begins with `near-` and a kind is nearly that and
must not; other names tell what happens in them.
"""

from __future__ import annotations

from collections.abc import Callable

from ..scene import Scene
from . import (
    advice,
    branch,
    canal,
    detection,
    detectors,
    doubts,
    freight,
    hollow,
    left_behind,
    loops,
    moor,
    roads,
    running,
    sections,
    shuttle,
    wharf,
    words,
)

SCENES: dict[str, Callable[[], Scene]] = {
    **sections.SCENES,
    **advice.SCENES,
    **roads.SCENES,
    **freight.SCENES,
    **detection.SCENES,
    **detectors.SCENES,
    **running.SCENES,
    **words.SCENES,
    **branch.SCENES,
    **canal.SCENES,
    **hollow.SCENES,
    **doubts.SCENES,
    **shuttle.SCENES,
    **wharf.SCENES,
    **left_behind.SCENES,
    **loops.SCENES,
    **moor.SCENES,
}
