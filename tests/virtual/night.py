"""An evening with faults, as its capture and its truth tell it."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from bridge.core.plan import Railway
from bridge.core.plant import DetectorKind
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage, stage
from bridge.virtual.world import World
from bridge.wire.lines import BoardLine, Report
from bridge.wire.records import Received

from .conftest import demonstration

SEED = 3


@dataclass(frozen=True)
class Night:
    """An evening with faults, as its capture and its truth tell it."""

    stage: Stage
    recording: Recording
    text: str
    truth: Mapping[str, Any]
    world: World
    levels: Mapping[tuple[str, int], str]

    @property
    def fault(self) -> Mapping[str, Any]:
        (row,) = self.truth["faults"]
        return row

    @property
    def lines(self) -> list[tuple[float, BoardLine]]:
        return [(r.t, r.line) for r in self.recording.records if isinstance(r, Received)]

    def reports(self, detector: str) -> list[tuple[float, Report]]:
        known = self.stage.railway.plant.detectors[detector]
        return [
            (t, line)
            for t, line in self.lines
            if isinstance(line, Report) and (line.board, line.input) == (known.board, known.input)
        ]

    def tags(self) -> Counter[tuple[str, str]]:
        """How often each reader said each tag."""
        plant = self.stage.railway.plant
        readers = {(d.board, d.input): d.id for d in plant.detectors.values() if d.kind is DetectorKind.READER}
        found = [line for _, line in self.lines if isinstance(line, Report) and (line.board, line.input) in readers]
        return Counter((readers[line.board, line.input], line.value.removeprefix("tag=")) for line in found)


def held(railway: Railway, *faults: str, seed: int = SEED) -> Night:
    evening = stage(railway).evening(seed, faults)
    recording = Recording(evening)
    text = recording.run()
    truth = json.loads(evening.truth_json())
    levels = {(name, number): level for name, board in evening.boards.items() for number, level in board.levels.items()}
    return Night(stage(railway), recording, text, truth, evening.scene.world, levels)


@cache
def night(*faults: str) -> Night:
    return held(demonstration(), *faults)


def tag_of(vehicle: str) -> str:
    return demonstration().stock[vehicle].tags[0]


def unread(one: Night) -> Counter[tuple[str, str]]:
    """What was read on a clean evening and not on this."""
    return night().tags() - one.tags()
