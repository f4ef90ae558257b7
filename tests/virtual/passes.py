"""Passes of a train over the boundary of station and section, and all that was to be seen of them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

from bridge.core.plan import Railway
from bridge.core.plant import Detector
from bridge.virtual.evening import Evening
from bridge.virtual.orders import Order, RunsTo
from bridge.virtual.physics import Physics
from bridge.virtual.script import Script
from bridge.wire.lines import BoardLine, Edge, Report, Watch

Line = Callable[..., Railway]
READER = '[[detector]]\nid = "{id}"\nkind = "reader"\nat = "ash-elm@ash"\nboard = "one"\ninput = {input}\n'
TREADLE = '[[detector]]\nid = "treadle"\nkind = "treadle"\nat = "ash-elm@ash"\nsees = "{sees}"\nboard = "one"\ninput = 9\n'
TRACK = '[[detector]]\nid = "track"\nkind = "track"\ncovers = "ash-elm"\nboard = "one"\ninput = 8\n'
ENGINE = ["e1,engine,150,04AA000001,", "w1,wagon,80,04AA000002,", "w2,wagon,80,04AA000003,"]
ALONE = ["e1,ash.road,1", "w1,ash.siding,1", "w2,ash.siding,2"]
TOGETHER = ["e1,ash.road,3", "w1,ash.road,2", "w2,ash.road,1"]


@dataclass
class Shuttle:
    """Runs between the two stations so many times."""

    speed_mm_s: float
    left: int
    engine: str = "e1"
    name: str = "shuttle"
    at: list[str] = field(default_factory=lambda: ["elm.road", "ash.road"])

    def next_order(self) -> tuple[Order, str] | None:
        self.left -= 1
        self.at.reverse()
        return (RunsTo(self.at[1], speed_mm_s=self.speed_mm_s), "shuttle:1") if self.left >= 0 else None


@dataclass
class Seen:
    """All that was to be seen of some passes."""

    evening: Evening
    reports: list[Report]
    edges: list[Edge]
    happened: list[tuple[str, str, str]]
    dwells_s: list[float]

    def caught(self, input: int, passes: int) -> float:
        return sum(line.input == input for line in self.reports) / passes


def passes(
    railway: Railway, speed_mm_s: float, count: int, physics: Physics | None = None, *, watched: bool = False
) -> Seen:
    """So many passes of a train over the boundary of station and section, at full speed there."""
    evening = Evening(
        railway, Script(speed_mm_s=speed_mm_s), physics=physics or Physics(), crews=[Shuttle(speed_mm_s, count)]
    )
    seen = Seen(evening, [], [], [], [])
    came: dict[tuple[str, str], float] = {}
    inputs = evening.scene.inputs
    felt, left = inputs.felt, inputs.left

    def on_felt(detector: Detector, tag: str) -> None:
        came[detector.id, tag] = evening.timeline.now_s
        felt(detector, tag)

    def on_left(detector: Detector, tag: str) -> None:
        if tag:
            seen.dwells_s.append(evening.timeline.now_s - came[detector.id, tag])
        left(detector, tag)

    def on_line(_board: object, line: BoardLine) -> None:
        if isinstance(line, Report):
            seen.reports.append(line)
        elif isinstance(line, Edge):
            seen.edges.append(line)

    inputs.felt, inputs.left = on_felt, on_left  # type: ignore[method-assign]
    inputs.witness = lambda what, detector, subject: seen.happened.append((what, detector.id, subject))
    evening.on_line = on_line
    evening.start()
    while not evening.finished:
        if watched:
            evening.hear("one", Watch(9, 60))
        evening.timeline.step()
    return seen
