"""A scene to condition: one plant with every kind of detector, and records fed as the service would feed them."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from dataclasses import replace

import pytest

from bridge.core.conditioning import BoardChange, Conditioned, Conditioning, Late, Observation
from bridge.core.events import Journalled
from bridge.core.plant import Board, Detector, DetectorKind, Plant, Road, RoadKind, Section, SectionRule, Station, Throat
from bridge.wire.lines import Alive, BoardLine, Edge, Hello, Report, State
from bridge.wire.records import (
    BoardDown,
    BoardUp,
    Closed,
    HostStarted,
    HostStopped,
    Opened,
    Reading,
    Received,
    Record,
    Rejected,
    Said,
)

ROADS = ("alder.dock", "alder.loop", "alder.yard", "alder.mill")
DETECTORS = (
    Detector("dock", DetectorKind.TRACK, "alder", 1, covers="alder.dock", clear_after_ms=1000),
    Detector("loop", DetectorKind.TRACK, "alder", 2, covers="alder.loop", clear_after_ms=1000, invert=True),
    Detector("mouth", DetectorKind.READER, "alder", 3, at="alder.dock@down"),
    Detector("axles", DetectorKind.TREADLE, "alder", 4, at="alder-birch@alder", sees="any"),
    Detector("engines", DetectorKind.TREADLE, "alder", 5, at="alder-birch@birch", sees="engine"),
    Detector("points", DetectorKind.POINTS, "alder", 6, at="alder.down", on=("alder.dock",), off=("alder.loop",)),
    Detector("bridge", DetectorKind.PROOF, "alder", 7, guards="alder-birch"),
    Detector("rest", DetectorKind.TOKEN_REST, "alder", 8, token="alder-birch", station="alder", clear_after_ms=500),
    Detector("line", DetectorKind.TRACK, "birch", 1, covers="alder-birch", clear_after_ms=1000),
)


def plant(detectors: tuple[Detector, ...], boards: dict[str, str], limits: dict[str, float]) -> Plant:
    roads = {road: Road(road, "alder", road, RoadKind.SIDING, 500.0, ("down",)) for road in ROADS}
    return Plant(
        "example",
        "Example",
        76.2,
        4,
        {"alder": Station("alder", "Alder", ROADS), "birch": Station("birch", "Birch", ())},
        roads,
        {end: Throat(end, *end.split(".")) for end in ("alder.down", "birch.up")},
        {"alder-birch": Section("alder-birch", "alder.down", "birch.up", 5200.0, SectionRule.ONE_TRAIN)},
        {board: Board(board, link) for board, link in boards.items()},
        {detector.id: detector for detector in detectors},
        limits,
    )


class Scene:
    """Feeds records in order, every deadline first, and keeps what was said. Board time is host time less `behind_s`."""

    def __init__(self, detectors: tuple[Detector, ...], boards: dict[str, str], limits: dict[str, float]) -> None:
        self.core = Conditioning(plant(detectors, boards, limits))
        self.late: list[Late] = []
        self.n = 0
        self.seqs: dict[tuple[str, int], int] = {}
        self.boots = dict.fromkeys(boards, 17)
        self.behind_s = 0.0
        self.observations: list[Observation] = []
        self.changes: list[BoardChange] = []

    def keep(self, said: Conditioned) -> Conditioned:
        self.observations += said.observations
        self.changes += said.changes
        self.late += said.late
        return said

    def place(self, t: float) -> Conditioned:
        """Put the report that came late last in its place, as far as that can be done from here on."""
        return self.keep(self.core.place(self.late.pop(), t))

    def until(self, t: float) -> None:
        """Pass every deadline at or before `t`."""
        while (due := self.core.due()) is not None and due <= t:
            self.keep(self.core.pass_deadline(due))

    def feed(self, record: Record) -> Conditioned:
        self.until(record.t)
        self.n += 1
        return self.keep(self.core.take(Journalled(self.n, record)))

    def line(self, t: float, line: BoardLine, link: str | None = None) -> Conditioned:
        return self.feed(Received(t, link or f"port-{line.board}", line))

    def numbered(self, t: float, kind: type, number: int, value: str, **keys: object) -> Conditioned:
        board = str(keys.get("board", "alder"))
        boot = int(str(keys.get("boot", self.boots[board])))
        if "seq" in keys:
            seq = int(str(keys["seq"]))
        else:
            seq = self.seqs[(board, boot)] = self.seqs.get((board, boot), 0) + 1
        ms = int(str(keys.get("ms", round((t - self.behind_s) * 1000)))) % (1 << 32)
        return self.line(t, kind(board, boot, seq, ms, number, value), keys.get("link"))  # type: ignore[arg-type]

    def report(self, t: float, number: int, value: str, **keys: object) -> Conditioned:
        return self.numbered(t, Report, number, value, **keys)

    def state(self, t: float, number: int, value: str, **keys: object) -> Conditioned:
        return self.numbered(t, State, number, value, **keys)

    def alive(self, t: float, board: str = "alder", seq: int | None = None) -> Conditioned:
        used = self.seqs.get((board, self.boots[board]), 0) if seq is None else seq
        return self.line(t, Alive(board, self.boots[board], used, round((t - self.behind_s) * 1000)))

    def hello(self, t: float, board: str = "alder", boot: int | None = None, ms: int | None = None) -> Conditioned:
        self.boots[board] = self.boots[board] if boot is None else boot
        return self.line(t, Hello(board, self.boots[board], round(t * 1000) if ms is None else ms, 10, (("fw", "1.0"),)))

    def state_all(self, t: float, board: str = "alder") -> None:
        """The board states every input of the folder: off."""
        for detector in self.core._detectors.of_board[board]:
            self.state(t, detector, "off", board=board)

    def edge(self, t: float, number: int, value: str, board: str = "alder") -> Conditioned:
        return self.line(t, Edge(board, self.boots[board], 1, number, value))

    def read(self, t: float, number: int, value: str, board: str = "alder", link: str = "mqtt") -> Conditioned:
        return self.feed(Reading(t, link, board, number, value))

    def opened(self, t: float, link: str = "port-alder") -> Conditioned:
        return self.feed(Opened(t, link))

    def closed(self, t: float, link: str = "port-alder") -> Conditioned:
        return self.feed(Closed(t, link))

    def up(self, t: float, board: str = "alder") -> Conditioned:
        return self.feed(BoardUp(t, "mqtt", board))

    def down(self, t: float, board: str = "alder") -> Conditioned:
        return self.feed(BoardDown(t, "mqtt", board))

    def rejected(self, t: float, link: str = "port-alder") -> Conditioned:
        return self.feed(Rejected(t, link, "bad-sum", b"?"))

    def said(self, t: float) -> Conditioned:
        return self.feed(Said(t, None, "depart g1"))

    def host(self, t: float, started: bool) -> Conditioned:
        return self.feed(HostStarted(t) if started else HostStopped(t))

    def word(self, detector: str) -> str:
        return self.core.detectors[detector].state

    def told(self, detector: str) -> list[tuple[float, str | None]]:
        """When a detector was observed in what state (or with what tag)."""
        return [(o.t, o.state or o.tag) for o in self.observations if o.detector == detector]

    def news(self, *kinds: str) -> list[BoardChange]:
        return [change for change in self.changes if not kinds or change.kind in kinds]

    def pickled(self) -> None:
        self.core = pickle.loads(pickle.dumps(self.core))


PATIENT = {"board_lost_after": 1e6}


@pytest.fixture(scope="session")
def make() -> Callable[..., Scene]:
    """`make(limits=…, boards=…, **changes of detectors by id)`; boards are silent as long as they like unless told else."""

    def build(
        limits: dict[str, float] | None = None, boards: dict[str, str] | None = None, **changes: dict[str, object]
    ) -> Scene:
        rows = [replace(row, **changes.get(row.id, {})) for row in DETECTORS]  # type: ignore[arg-type]
        rows += [Detector(**row) for key, row in changes.items() if key not in {d.id for d in DETECTORS}]  # type: ignore[arg-type]
        return Scene(tuple(rows), boards or {"alder": "serial", "birch": "serial"}, PATIENT if limits is None else limits)

    return build


@pytest.fixture
def scene(make: Callable[..., Scene]) -> Scene:
    return make()


@pytest.fixture
def strict(make: Callable[..., Scene]) -> Scene:
    """Boards are lost after 6 s, reports after 5, as the contract has it."""
    scene = make(limits={})
    scene.alive(0.0)
    scene.alive(0.0, board="birch")
    scene.changes.clear()
    return scene
