"""Evenings on the demonstration railway in which a crew makes a mistake: what really happened, and the capture of it."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from bridge.virtual.crew.mistakes import MISTAKES
from bridge.virtual.recording import Recording
from bridge.virtual.staging import stage
from bridge.virtual.world import NEAR_MM

from .conftest import demonstration
from .geometry import overlaps, pieces_now

SEEDS = (1, 2)
ELSEWHERE = ("wrong-token",)
"""What the demonstration railway gives no occasion for."""
TOLD = tuple(name for name in MISTAKES if name not in ELSEWHERE)


@dataclass(frozen=True)
class Evening:
    """What really happened, and the capture of it."""

    capture: str
    truth: Mapping[str, Any]
    recording: Recording

    @property
    def expected(self) -> Mapping[str, Any]:
        """The one row that the mistake has."""
        (row,) = self.truth["expected"]
        return dict(row)

    def subject(self, key: str) -> Any:
        return self.expected["subject"][key]

    def events(self, says: str, **keys: str) -> list[Mapping[str, Any]]:
        return [e for e in self.truth["events"] if e["says"] == says and all(e[key] == value for key, value in keys.items())]

    def stood(self, table: str, thing: str, t_s: float) -> list[Any]:
        """How something stood at an instant: the last row of a table at or before it, behind its name."""
        rows = [row[2:] for row in self.truth[table] if row[1] == thing and row[0] <= t_s + 1e-3]
        return list(rows[-1]) if rows else []


def by_crews(seed: int, *faults: str) -> Evening:
    evening = stage(demonstration()).evening(seed, faults)
    recording = Recording(evening)
    capture = recording.run()
    world = evening.scene.world
    assert overlaps(world, pieces_now(world, evening.timeline.now_s), NEAR_MM) == []
    return Evening(capture, json.loads(evening.truth_json()), recording)


@cache
def made(seed: int, mistake: str) -> Evening:
    return by_crews(seed, mistake)


def engine_of(train: str) -> str:
    return demonstration().workings[train].engine


def went_out(evening: Evening) -> float:
    """When the row's train was first in its section after the mistake."""
    t_s: float = evening.expected["evidence_t"]
    return t_s


def vehicles_with(evening: Evening, engine: str, t_s: float) -> Sequence[str]:
    train: Sequence[str] = evening.stood("trains", engine, t_s)[1]
    return train
