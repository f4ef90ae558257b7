"""What the service is tested with: a core simple enough to foresee, links fed by hand, and a service in a thread."""

from __future__ import annotations

import json
import random
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from bridge.core.events import DeadlinePassed, Event, FolderTaken, Journalled
from bridge.core.outcomes import Outcome
from bridge.core.plan import Railway
from bridge.folder import FolderRead, load
from bridge.links.link import Arrival, Inbox
from bridge.service.folding import Core
from bridge.service.loop import Service
from bridge.service.notify import Supervisor
from bridge.service.resuming import take_up
from bridge.wire.lines import Alive, Hello, HostLine, Report, State
from bridge.wire.records import Received, Record, Said

RAILWAY = Path(__file__).parent.parent / "recordings" / "railway"


@dataclass
class Simple:
    """The state of the simple core: a report counts once, and 1 s after each "on" it wants to be woken."""

    after_end: bool
    t: float = 0.0
    folder_t: float | None = None
    said: int = 0
    seen: set[tuple[str, int, int]] = field(default_factory=set)
    due: list[float] = field(default_factory=list)
    running: bool = False
    reply: str = ""


def _fold(state: Simple, event: Event) -> tuple[Simple, Sequence[Outcome]]:
    said: list[tuple[str, dict[str, Any], tuple[int, ...]]] = []
    match event:
        case FolderTaken(t):
            state.folder_t = t
        case DeadlinePassed(t):
            state.t = t
            state.due = [due for due in state.due if due > t]
            said.append(("woken", {}, ()))
        case Journalled(n, record):
            state.t = record.t
            said += _take(state, n, record)
    outcomes = [Outcome(state.said + i, state.t, None, says, ns, keys) for i, (says, keys, ns) in enumerate(said, 1)]
    state.said += len(outcomes)
    return state, outcomes


def _take(state: Simple, n: int, record: Record) -> list[tuple[str, dict[str, Any], tuple[int, ...]]]:
    match record:
        case Received(t, _, Report(board, boot, seq, _, number, value)):
            if (board, boot, seq) in state.seen:
                return []
            state.seen.add((board, boot, seq))
            if value == "on":
                state.due.append(round(t + 1.0, 6))
            return [("observed", {"board": board, "seq": seq, "input": number, "state": value}, (n,))]
        case Said(_, _, words):
            state.reply = f"heard {words}"
            if words == "fail":
                raise ZeroDivisionError("a rule of arithmetic")
            if words.startswith("begin") and not state.running:
                state.running = True
                return [("session", {"state": "started"}, (n,))]
            if words == "end" and state.running:
                state.running = False
                return [("session", {"state": "ended"}, (n,))]
    return []


SIMPLE = Core(
    fresh=Simple,
    fold=_fold,
    due=lambda state: min(state.due, default=None),
    close=lambda state, t: (state, [Outcome(state.said + 1, t, None, "closed", ())]),
    view=lambda state: {
        "seen": len(state.seen),
        "t": state.t,
        "folder_t": state.folder_t,
        "after_end": state.after_end,
        "running": state.running,
    },
    misword=lambda words: None if words.split()[:1] and words.split()[0] in WORDS else f"“{words}” is no word known here.",
    reply=lambda state: state.reply,
    learned=lambda state: None,
)
WORDS = ("begin", "end", "fail", "explain")


def report(seq: int, value: str = "on", t: float = 0.0, board: str = "brake", boot: int = 7) -> Received:
    return Received(t, "serial-x", Report(board, boot, seq, seq, 1, value))


class HandLink:
    """A link that brings what the test gives it, and keeps what it is asked to send."""

    name = "hand"

    def __init__(self) -> None:
        self.inbox: Inbox | None = None
        self.started = threading.Event()
        self.stopped = threading.Event()
        self.sent: list[tuple[str, HostLine]] = []
        self.trouble: tuple[str, ...] = ()
        self.last_words: tuple[Record, ...] = ()

    def start(self, inbox: Inbox) -> None:
        self.inbox = inbox
        self.started.set()

    def stop(self) -> None:
        if self.last_words:
            self.bring(*self.last_words)
        self.stopped.set()

    def bring(self, *records: Record, done: Callable[[], None] | None = None) -> None:
        assert self.inbox is not None
        self.inbox(Arrival(records, done))

    def send(self, board: str, line: HostLine) -> bool:
        self.sent.append((board, line))
        return True

    def troubles(self) -> tuple[str, ...]:
        return self.trouble


class Live:
    """A service running in a thread of its own."""

    def __init__(
        self,
        store: Path,
        folder: FolderRead,
        core: Core = SIMPLE,
        folder_again: Callable[[], FolderRead | None] | None = None,
        pace: float = 1.0,
        wall: Callable[[], float] = time.time,
        supervisor: Supervisor | None = None,
    ) -> None:
        self.store = store
        self.link = HandLink()
        self.log: list[str] = []
        self.said: list[Mapping[str, Any]] = []
        self.news = threading.Condition()
        self.resumed = take_up(
            store,
            folder,
            core,
            folder_again=folder_again or (lambda: folder),
            pace=pace,
            wall=wall,
        )
        self.service = Service(self.resumed, [self.link], core, [self._hear], self.log.append, supervisor)
        self.failure: BaseException | None = None
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()
        assert self.link.started.wait(10) or self.failure

    def _run(self) -> None:
        try:
            self.service.run()
        except BaseException as error:
            self.failure = error

    def _hear(self, row: Mapping[str, Any]) -> None:
        with self.news:
            self.said.append(json.loads(json.dumps(row)))
            self.news.notify_all()

    def wait(self, is_so: Callable[[], object], seconds: float = 10.0) -> None:
        """Until something said makes it so."""
        with self.news:
            assert self.news.wait_for(is_so, seconds), f"not within {seconds} s: {self.said[-3:]}, {self.log}"

    def bring(self, *records: Record) -> None:
        """Bring records and wait until they are committed."""
        done = threading.Event()
        self.link.bring(*records, done=done.set)
        assert done.wait(10), self.failure

    def tell(self, words: str, who: str | None = None) -> Any:
        return self.service.tell(words, who).result(10)

    def stop(self) -> None:
        self.service.stop()
        self.thread.join(10)
        assert not self.thread.is_alive()


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "oxlip.store"


@pytest.fixture
def folder() -> FolderRead:
    read = load(RAILWAY)
    assert read.railway is not None
    return read


@pytest.fixture
def railway(folder: FolderRead) -> Railway:
    assert folder.railway is not None
    return folder.railway


@pytest.fixture
def go_live(store: Path, folder: FolderRead) -> Iterator[Callable[..., Live]]:
    """Start a service on the store; all are stopped behind the test."""
    running: list[Live] = []

    def start(core: Core = SIMPLE, **how: Any) -> Live:
        running.append(Live(store, how.pop("folder", folder), core, **how))
        return running[-1]

    yield start
    for live in running:
        live.service.stop()
        live.thread.join(10)


def chance_lines(railway: Railway, seed: int, count: int) -> list[Record]:
    """Lines such as boards and operators might send: reports of every detector in any order, repeats, gaps and late ones."""
    chance = random.Random(seed)
    seq = dict.fromkeys(railway.plant.boards, 0)
    detectors = list(railway.plant.detectors.values())
    tags = [tag for vehicle in railway.stock.values() for tag in vehicle.tags]
    made: list[Record] = [Received(0.0, f"serial-{board}", Hello(board, 5, 900, 16)) for board in seq]
    made.append(Said(0.0, "ann", "begin 19:00"))
    for _ in range(count):
        detector = chance.choice(detectors)
        board, link = detector.board, f"serial-{detector.board}"
        if chance.random() < 0.2:
            made.append(Received(0.0, link, Alive(board, 5, seq[board], 1000)))
            continue
        seq[board] += chance.choice((1, 1, 1, 1, 1, 2))
        number = max(1, seq[board] - (chance.randrange(4) if chance.random() < 0.1 else 0))
        by_tag = detector.kind.value in ("reader", "token-rest") and chance.random() < 0.8
        value = f"tag={chance.choice(tags)}" if by_tag else chance.choice(("on", "off"))
        kind = State if chance.random() < 0.1 else Report
        made.append(Received(0.0, link, kind(board, 5, number, 1000, detector.input, value)))
    return made
