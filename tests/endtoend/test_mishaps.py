"""Cables pulled, the broker and the bridge killed, operators' words in between: the register is what a replay says."""

from __future__ import annotations

import json
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from bridge.cli.demo import demonstration
from bridge.journal import Reader
from bridge.service.recounting import recount
from bridge.virtual.live import Live
from bridge.virtual.staging import Stage
from bridge.virtual.wires import BrokerBoards
from bridge.wire.records import Closed, HostStarted, HostStopped, Opened, Record, Said

from .cables import Cables
from .commands import said_again
from .mishaps import HOST, LONGEST_S, Crew, LoneBridge, MortalBroker, Row

pytestmark = [pytest.mark.wires, pytest.mark.timeout(180)]

SPEED = 12.0
GIVEN = "give lanternby-pettymarsh g1"
TOLD = "begin stop-clock go-on stands give return mute unmute acknowledge explain verdict undo end"


@dataclass(frozen=True)
class Mishaps:
    """What is left of the evening: what was said before the kill and behind it, and the store."""

    before: list[str]
    behind: list[str]
    store: Path


class Evening:
    """The boards and crews of an evening, and the bridge they have at the time."""

    def __init__(self, stages: Stage, broker: MortalBroker, home: Path) -> None:
        plant = stages.railway.plant
        by_broker = [board.id for board in plant.boards.values() if board.link == "mqtt"]
        (home / "ports").mkdir()
        self.cables = Cables((board for board in plant.boards if board not in by_broker), home / "ports")
        self.broker = broker
        self.store = home / "evening.store"
        self.crew = Crew()
        what = (demonstration(), self.store, home / "ports", broker.port, SPEED, time.time())
        self._words = [str(word) for word in what]
        wires = (self.cables, BrokerBoards(plant.id, HOST, broker.port, by_broker))
        self._evening = stages.evening(1, [])
        self._live = Live(
            self._evening, wires, lambda: time.monotonic() * SPEED, speed=SPEED, on_words=self.crew.say, on_over=lambda: None
        )
        self._thread = threading.Thread(target=self._live.run, daemon=True)
        self._thread.start()
        self.bridge = self.start()

    def start(self) -> LoneBridge:
        self.bridge = LoneBridge(*self._words)
        self.crew.face(self.bridge)
        return self.bridge

    def kill(self, unheard_s: float) -> list[str]:
        """Kill the bridge, and let so many seconds of the evening pass unheard; what the bridge had said."""
        self.crew.face(None)
        self.bridge.kill()
        until_s = self._evening.timeline.now_s + unheard_s
        deadline = time.monotonic() + LONGEST_S
        while self._evening.timeline.now_s < until_s:
            assert time.monotonic() < deadline
            time.sleep(0.02)
        return self.bridge.lines

    def lost(self, board: str, status: str) -> Row:
        """Until the board is said to be lost, or to be there again."""
        return self.bridge.wait(
            lambda row: row["says"] == "irregularity" and row.get("board") == board and row["status"] == status
        )

    def stop(self) -> None:
        self.crew.stop()
        self.bridge.kill()
        self._live.stop()
        self._thread.join(10)


@pytest.fixture(scope="module")
def mishaps(need: Callable[[str], str], stages: Stage, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Mishaps]:
    home = tmp_path_factory.mktemp("mishaps")
    broker = MortalBroker(need("mosquitto"), home)
    evening = Evening(stages, broker, home)
    try:
        yield happen(evening)
    finally:
        evening.stop()
        broker.kill()


def happen(evening: Evening) -> Mishaps:
    bridge = evening.bridge
    bridge.wait(lambda row: row["says"] == "departed")
    looked = bridge.tell("stands w07 pettymarsh.mill")
    for words in ("mute lanternby-goods", "stop-clock", "go-on", "give pettymarsh-featherlow m1", GIVEN):
        bridge.tell(words)
    evening.cables.pull("lanternby")
    evening.lost("lanternby", "open")
    evening.cables.plug("lanternby", "port0")
    evening.lost("lanternby", "ended")
    evening.cables.pull("featherlow")
    evening.lost("featherlow", "open")
    evening.cables.plug("featherlow", "elsewhere")
    evening.lost("featherlow", "ended")
    evening.broker.kill()
    lost = evening.lost("copperwhin", "open")["id"]
    for words in (f"acknowledge {lost}", f"explain {lost} the broker was killed", f"verdict {lost} mine"):
        bridge.tell(words)
    evening.broker.start()
    evening.lost("copperwhin", "ended")
    before = evening.kill(unheard_s=15.0)
    bridge = evening.start()
    for words in ("unmute lanternby-goods", f"undo {looked['n']}", "return lanternby-pettymarsh g1", "stands w08 off"):
        bridge.tell(words)
    bridge.wait(lambda row: row["says"] == "arrived")
    bridge.tell("end")
    bridge.wait(lambda row: row["says"] == "session" and row["state"] == "ended")
    bridge.stop()
    assert evening.crew.refused == []
    return Mishaps(before, bridge.lines, evening.store)


def records(store: Path) -> list[Record]:
    with Reader.open(store) as reader:
        return [row.record for row in reader.records(1)]


def test_all_of_it_is_in_the_journal(mishaps: Mishaps) -> None:
    """What is compared below holds what it should hold."""
    kept = records(mishaps.store)
    closed = {record.link for record in kept if isinstance(record, Closed)}
    opened = {record.link for record in kept if isinstance(record, Opened)}
    assert closed >= {"serial-port0", "serial-port2", "mqtt"}
    assert opened == {"serial-port0", "serial-port1", "serial-port2", "serial-port3", "serial-elsewhere", "mqtt"}
    assert [type(record) for record in kept if isinstance(record, (HostStarted, HostStopped))] == [
        HostStarted,
        HostStopped,
        HostStarted,
    ]
    words = {record.words.split()[0] for record in kept if isinstance(record, Said)}
    assert words >= set(TOLD.split())


def test_what_was_said_live_is_what_a_replay_says_line_for_line(mishaps: Mishaps, figure: Callable[[str], None]) -> None:
    again = said_again(mishaps.store)
    before, behind = mishaps.before, mishaps.behind
    assert len(before) > 100
    assert len(behind) > 100
    assert again[: len(before)] == before
    assert again[len(again) - len(behind) :] == behind
    unsaid = again[len(before) : len(again) - len(behind)]
    figure(f"register with mishaps: {len(before)} outcomes before the kill, {len(behind)} behind it, {len(unsaid)} between")
    last_t, next_t = json.loads(before[-1])["t"], json.loads(behind[0])["t"]
    assert all(last_t <= json.loads(line)["t"] <= next_t for line in unsaid)


def test_it_can_be_told_again_from_the_store(mishaps: Mishaps) -> None:
    with Reader.open(mishaps.store) as reader:
        told = recount(reader, reader.sessions()[0]).outcomes
    assert [json.dumps(outcome.as_dict(), ensure_ascii=False) for outcome in told] == said_again(mishaps.store)
