"""A stop and a start of the service put into a recording: what would have reached the host then.

Rule: boards go on with what they do. What they say while the service is away comes when it is back (a broker keeps it, a
board on a port sends it again), and so do operators' words; then each board that is there answers what it is asked at a
start: hello, and how every input stands. These lines take numbers, so that its later ones have higher numbers than in the
recording.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from bridge.core.plant import DetectorKind, Plant
from bridge.wire.lines import Alive, BoardLine, Edge, Hello, Report, State
from bridge.wire.records import Closed, HostStarted, HostStopped, Opened, Received, Record

AWAY_S = 0.5
ANSWERED_S = 0.02  # so long behind its start the service has been answered by a board
THERE_S = 2.5  # a board says `alive` every 2 s


@dataclass
class _Board:
    """What is known of a board at some moment of a recording: its last line, and how its inputs stand in its boot."""

    link: str = ""
    boot: int = 0
    last_t: float = -1e9
    ms: int = 0
    used: int = 0
    stands: dict[int, str] = field(default_factory=dict)

    def hear(self, t: float, link: str, line: BoardLine, kind: DetectorKind | None) -> None:
        if isinstance(line, Edge):
            return
        if line.boot != self.boot:
            self.boot, self.used, self.stands = line.boot, 0, {}
        self.link, self.last_t, self.ms = link, t, line.ms
        if not isinstance(line, Hello):
            is_new = line.seq >= self.used
            self.used = max(self.used, line.seq)
            if isinstance(line, Report | State) and is_new:
                passed = isinstance(line, Report) and kind is DetectorKind.READER
                self.stands[line.input] = "off" if passed else line.value


def with_stop(
    records: Sequence[Record], plant: Plant, stop_t: float, away_s: float = AWAY_S, held_s: float = 0.0
) -> list[Record]:
    """A recording in which the service is stopped at host second `stop_t` and started again `away_s` later. What was said
    in the last `held_s` before the stop has not reached it either: it comes when it is back."""
    start_t, held_t = round(stop_t + away_s, 6), round(stop_t - held_s, 6)
    before = [record for record in records if record.t < held_t]
    meanwhile = [record for record in records if held_t <= record.t < start_t]
    after = [record for record in records if record.t >= start_t]
    answers: list[Record] = []
    renumbered: dict[tuple[str, int], tuple[int, int]] = {}
    for name in plant.boards:
        t = _answer_t(name, records, held_t, start_t)
        board = None if t is None else _board(name, records, plant, t)
        if t is not None and board is not None:
            answers += _answers(name, board, t)
            renumbered[name, board.boot] = board.used, len(board.stands)
    rows: list[Record] = [*before, HostStopped(stop_t), HostStarted(start_t)]
    rows += [Opened(start_t, link) for link in _open_links(before)]
    rows += [replace(record, t=start_t) for record in meanwhile]
    rows += sorted([*answers, *(_renumbered(record, renumbered) for record in after)], key=lambda record: record.t)
    return rows


def _answer_t(name: str, records: Sequence[Record], stop_t: float, start_t: float) -> float | None:
    """When a board answers: at once where it is there, else as soon as it is; None where it is not seen again."""
    heard = [record.t for record in records if isinstance(record, Received) and record.line.board == name]
    if any(stop_t - THERE_S < t < start_t for t in heard):
        return round(start_t + ANSWERED_S, 6)
    back_t = next((t for t in heard if t >= start_t), None)
    return None if back_t is None else round(back_t + ANSWERED_S, 6)


def _board(name: str, records: Iterable[Record], plant: Plant, t: float) -> _Board | None:
    """A board as it stands at host second `t`."""
    kinds = {detector.input: detector.kind for detector in plant.detectors.values() if detector.board == name}
    board = None
    for record in records:
        if record.t < t and isinstance(record, Received) and record.line.board == name:
            board = board or _Board()
            board.hear(record.t, record.link, record.line, kinds.get(getattr(record.line, "input", 0)))
    return board


def _open_links(records: Iterable[Record]) -> list[str]:
    links: dict[str, bool] = {}
    for record in records:
        if isinstance(record, Opened | Closed):
            links[record.link] = isinstance(record, Opened)
    return [link for link, is_open in links.items() if is_open]


def _answers(name: str, board: _Board, t: float) -> list[Record]:
    ms = board.ms + round((t - board.last_t) * 1000)
    lines: list[BoardLine] = [Hello(name, board.boot, ms, len(board.stands))]
    for seq, (number, value) in enumerate(sorted(board.stands.items()), board.used + 1):
        lines.append(State(name, board.boot, seq, ms, number, value))
    return [Received(t, board.link, line) for line in lines]


def _renumbered(record: Record, renumbered: Mapping[tuple[str, int], tuple[int, int]]) -> Record:
    """A line with the number that it has where its board has answered in between; what was numbered before keeps it."""
    if not isinstance(record, Received) or not isinstance(record.line, Alive | Report | State):
        return record
    line = record.line
    used, more = renumbered.get((line.board, line.boot), (0, 0))
    is_later = line.seq >= used if isinstance(line, Alive) else line.seq > used
    return replace(record, line=replace(line, seq=line.seq + more)) if is_later else record
