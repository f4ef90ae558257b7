"""Evenings of the demonstration railway for tests: staged, recorded, and replayed through the whole core."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from bridge.cli.demo import demonstration
from bridge.core.plan import Railway
from bridge.folder import FolderRead, load
from bridge.service.replaying import replay
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage, stage
from bridge.virtual.verdict import Verdict, held_against

Row = Mapping[str, Any]


def folder() -> Path:
    """Where the demonstration railway is."""
    source = demonstration()
    assert source is not None
    return source


@cache
def read() -> FolderRead:
    """Its folder, read."""
    found = load(folder())
    assert found.railway is not None
    return found


def railway() -> Railway:
    """The railway that it is."""
    found = read().railway
    assert found is not None
    return found


@cache
def crewed() -> Stage:
    """Evenings worked by crews."""
    return stage(railway())


@cache
def scripted() -> Stage:
    """Evenings worked by the script that lies beside it."""
    return stage(railway(), folder() / "evening.script")


class Told(NamedTuple):
    """The lines of an evening's capture, what was said of it, what really happened, and the one held against the other."""

    lines: Sequence[str]
    rows: Sequence[Row]
    truth: Row
    verdict: Verdict

    @property
    def irregularities(self) -> list[Row]:
        """What was said to be wrong."""
        return [row for row in self.rows if row["says"] == "irregularity"]


@cache
def told(made: Callable[[], Stage], seed: int, *chosen: str) -> Told:
    """An evening with these mistakes and faults; `made`: `crewed` or `scripted`."""
    evening = made().evening(seed, chosen)
    recording = Recording(evening)
    lines = recording.run().splitlines()[1:]
    truth = json.loads(evening.truth_json())
    rows = [json.loads(json.dumps(outcome.as_dict())) for outcome in replay(railway(), recording.records)]
    return Told(lines, rows, truth, held_against(truth, rows))
