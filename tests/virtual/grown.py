"""An evening on a railway grown from a seed, worked by crews, with its film and everything that boards said."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from bridge.core.plan import Railway
from bridge.folder import Finding, read
from bridge.virtual.board import Board
from bridge.virtual.crew.stacks import CannotError
from bridge.virtual.evening import Evening
from bridge.virtual.growing.growth import Growth
from bridge.virtual.growing.railway import Grown, grow
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage
from bridge.wire.lines import BoardLine

from .film import Film

LONGEST_S = 6 * 3600.0  # a real evening is over by then


@dataclass(frozen=True, slots=True)
class Refused:
    """What a crew could not do: when it said so, what stood where, and when anything last moved."""

    t_s: float
    text: str
    on: dict[str, tuple[str, ...]]
    moved_s: float


@dataclass
class GrownEvening:
    """A grown railway and its evening. `took_s`: seconds of the processor; `lines`: when which board said what."""

    seed: int
    grown: Grown
    railway: Railway
    findings: tuple[Finding, ...]
    evening: Evening
    film: Film
    capture: str = ""
    took_s: float = 0.0
    lines: list[tuple[float, Board, BoardLine]] = field(default_factory=list)
    refused: dict[str, Refused] = field(default_factory=dict)

    @property
    def times_real(self) -> float:
        """How many times as fast as real time it went."""
        return self.evening.timeline.now_s / self.took_s

    def done(self) -> list[bool]:
        """Of each row of moves.csv, whether it was done by what stands where."""
        done_to: dict[str, list[str]] = {}
        for event in self.evening.scene.truth.events:
            if event["says"] == "set-out":
                done_to.setdefault(event["vehicle"], []).append(event["road"])
        return [move.to_road in done_to.get(move.vehicle, ()) for move in self.railway.moves]


def railway_of(grown: Grown) -> tuple[Railway, tuple[Finding, ...]]:
    """The railway that a folder's texts are; they must have no fault."""
    found = read({name: text.encode() for name, text in grown.texts.items()})
    assert found.railway is not None, [finding for finding in found.findings if finding.level == "fault"]
    return found.railway, found.findings


def worked(seed: int, growth: Growth | None = None) -> GrownEvening:
    """Grow the railway of a seed and let crews work it to its end."""
    grown = grow(seed, growth)
    railway, findings = railway_of(grown)
    began_s = time.process_time()
    evening = Stage(railway).evening(seed, [])
    work = GrownEvening(seed, grown, railway, findings, evening, Film(railway))
    recording = Recording(evening)
    _filmed(work)
    evening.timeline.at(LONGEST_S, _too_long)
    with _noting(work):
        work.capture = recording.run()
    work.took_s = time.process_time() - began_s
    return work


def _too_long() -> None:
    raise AssertionError(f"the evening is not over after {LONGEST_S:.0f} s")


def _filmed(work: GrownEvening) -> None:
    truth, heard = work.evening.scene.truth, work.evening.on_line
    keep = truth.moved

    def moved(t_s: float, vehicle: str, way: str, stretch: str) -> None:
        keep(t_s, vehicle, way, stretch)
        work.film.moved(t_s, vehicle, way, stretch)

    def on_line(board: Board, line: BoardLine) -> None:
        work.lines.append((work.evening.timeline.now_s, board, line))
        heard(board, line)

    truth.moved = moved  # type: ignore[method-assign]
    work.evening.on_line = on_line


@contextmanager
def _noting(work: GrownEvening) -> Iterator[None]:
    """Note, whenever a crew says what it cannot do, how things stand at that instant; the first time of each."""
    original = CannotError.__init__

    def noted(self: CannotError, reason: str, vehicle: str | None = None) -> None:
        original(self, reason, vehicle)
        if reason not in work.refused:
            on = {stretch: tuple(line) for stretch, line in work.film.order.items() if line}
            work.refused[reason] = Refused(work.evening.timeline.now_s, reason, on, work.film.last_s)

    CannotError.__init__ = noted  # type: ignore[method-assign]
    try:
        yield
    finally:
        CannotError.__init__ = original  # type: ignore[method-assign]
