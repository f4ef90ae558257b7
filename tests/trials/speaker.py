"""Boards that go on speaking to a broker, whether or not anybody listens, and the clock that they and the bridge share.

Rules. Every line goes out at QoS 1, by one client, so that the broker gets lines in the order in which they happened. While
the bridge is there the clock does not run ahead of what has reached it; while it is gone the railway goes on for a while,
and then stands until the bridge has come back, has asked every board, and has all that it was told in its journal. The
journal is read from outside, as the file that it is.
"""

from __future__ import annotations

import sqlite3
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from random import Random

from paho.mqtt.client import Client, MQTTMessage, MQTTMessageInfo
from paho.mqtt.enums import CallbackAPIVersion

from bridge.wire.encode import encode
from bridge.wire.lines import Again, Ask, BoardLine, HostLine, Report, State, Watch
from bridge.wire.parser import parse_line

from .evenings import FIRST_S, Boards
from .sharing import Shared, mark_of
from .victim import LONGEST_S, Bridge, Killer

PACE = 1_000.0
"""So many times as fast as a real one the clock runs at most."""

LAG_S = 0.2
"""What was said has reached the bridge after so many seconds of the clock at the latest, or the clock stands: by so much,
too, the session clock stands still for a kill."""

MOST_OWED = 100
LOOK_S = 0.0003
LOOK_AT_JOURNAL_S = 0.005
UNHEARD_S = 0.5
"""The railway goes on for so many seconds at most after a kill, by chance."""

MOST_UNHEARD_S = 10.0
"""And for so many in an evening, as the bridge's session clock stands still meanwhile: else trains depart more than a minute
before their time by it, which it says."""

MOST_ON_THE_WAY = 1_000
HOST = "127.0.0.1"
Number = tuple[str, int, int]
"""Board, boot, seq."""


class Journal:
    """The store as anybody can read it: which lines are in it by now."""

    def __init__(self, store: Path) -> None:
        self._store = store
        self._db: sqlite3.Connection | None = None
        self._at = (0, 0)
        self.seen: set[str] = set()
        """Lines of the host and of links that have been in it."""

    def news(self) -> list[str]:
        """The lines that have come in since last asked, without their seconds."""
        if self._db is None:
            if not self._store.exists():
                return []
            self._db = sqlite3.connect(f"{self._store.as_uri()}?mode=ro", uri=True, timeout=5.0)
        try:
            rows = self._db.execute("SELECT session, n, line FROM records WHERE (session, n) > (?, ?)", self._at).fetchall()
        except sqlite3.OperationalError:  # its tables are being made just now, or it is being recovered
            self.close()
            return []
        if rows:
            self._at = rows[-1][:2]
        self.seen.update(row[2] for row in rows if " !" in row[2] or row[2].startswith("host"))
        return [row[2] for row in rows]

    def close(self) -> None:
        """Let go of the file, so that the bridge finds it as a kill left it."""
        if self._db is not None:
            self._db.close()
            self._db = None


class Speaker:
    """Speaks evening after evening. `sent`: every numbered line that went out, by its number. A board that is
    told `again` sends a number once more, a `state` with how its input stands by then."""

    def __init__(self, bridge: Bridge, killer: Killer, shared: Shared, journal: Journal, *, seed: int) -> None:
        self.sent: dict[Number, list[str]] = {}
        self.reports = 0
        self.words = 0
        self.unheard = 0
        """Numbered lines that went out while no bridge was there."""
        self._bridge, self._killer, self._shared, self._journal = bridge, killer, shared, journal
        self._chance = Random(f"unheard {seed}")
        self._owed: dict[str, None] = {}  # lines that are not in the journal yet, words too
        self._underway: dict[bytes, float] = {}  # lines that have not reached it, and when they were said
        self._looked_at = 0.0
        self._asked: set[str] = set()
        self._names: frozenset[str] = frozenset()
        self._hear: Callable[[str, HostLine, float], None] = lambda board, line, t: None
        self._is_there = False
        self._is_settled = False
        self._goes_on_until_t = 0.0
        self._unheard_s = 0.0
        self._at = time.monotonic()

    def connect(self, railway: str, broker: int, password: str, boards: Iterable[str]) -> None:
        """Switch the boards' links on, and start the bridge: the broker then keeps for it what it does not take."""
        self._names = frozenset(boards)
        self._client = BoardsClient(railway, broker, password)
        for board in self._names:
            self._client.publish(f"boards/{board}/link", b"up", retain=True)
        self._start_bridge()
        self._stand(lambda: "mqtt !opened" in self._journal.seen)

    def speak(self, boards: Boards) -> None:
        """One whole evening; at its end all of it is in the journal."""
        boards.on_line, boards.on_words, self._hear = self._say, self._tell, boards.hear
        self._unheard_s = 0.0
        self._shared.turn_to(boards.zero_t)
        self._goes_on_until_t = boards.zero_t + FIRST_S
        self._is_settled = False
        self._asked.clear()
        boards.switch_on()
        while not boards.is_over:
            self._stand(lambda: self._goes_on(boards.next_t))
            self._go_to(boards.next_t)
            boards.step()
        self._stand(lambda: self._is_there and not self._owed)

    def stop(self) -> None:
        """Leave, once the broker has acknowledged every message."""
        self._client.stop()
        self._journal.close()

    # -- what the railway does -----------------------------------------------------------------------------------------

    def _goes_on(self, next_t: float) -> bool:
        """Whether the next thing may happen now."""
        if next_t <= self._goes_on_until_t:
            return True
        if not self._is_settled:
            self._is_settled = self._is_there and not self._owed and self._asked >= self._names
            if self._is_settled:
                self._bridge.look()
        return self._is_settled and len(self._owed) < MOST_OWED and not self._is_awaited(next_t)

    def _is_awaited(self, next_t: float) -> bool:
        """Whether something on its way has to reach the bridge before the clock goes on."""
        if not self._underway or next_t <= self._shared.t:
            return False
        return next_t - next(iter(self._underway.values())) > LAG_S

    def _go_to(self, t: float) -> None:
        now = time.monotonic()
        due = self._at + max(0.0, t - self._shared.t) / PACE
        if due - now > 0.001:
            time.sleep(due - now)
        self._at = max(due, now - 0.05)
        self._shared.turn_to(t)

    def _say(self, line: BoardLine) -> None:
        text = encode(line)[:-1].decode()
        if isinstance(line, (Report, State)):
            self.sent.setdefault((line.board, line.boot, line.seq), []).append(text)
            self.reports += isinstance(line, Report)
            self.unheard += not self._is_there
            self._owed[f"mqtt {text}"] = None
        self._send(text.encode())
        self._client.publish(f"boards/{line.board}/out", text.encode())
        if isinstance(line, (Report, State)):
            self._killer.sent(self.reports)

    def _tell(self, words: str) -> None:
        self.words += 1
        self._owed[f"operator {words}"] = None
        self._send(words.encode())
        self._client.publish("operator", words.encode())

    def _send(self, text: bytes) -> None:
        mark = mark_of(text)
        self._underway[mark] = self._shared.t
        self._shared.said(mark)

    # -- what the bridge does ------------------------------------------------------------------------------------------

    def _stand(self, until: Callable[[], bool]) -> None:
        """Let the clock stand until it is so."""
        given_up, starts = time.monotonic() + LONGEST_S, 0
        self._look()
        while not until():
            if len(self._bridge.lives) != starts:
                given_up, starts = time.monotonic() + LONGEST_S, len(self._bridge.lives)
            if time.monotonic() > given_up:
                errors = self._bridge.lives[-1].errors
                raise TimeoutError(f"still not journalled: {list(self._owed)[:5]}, asked: {sorted(self._asked)}, {errors}")
            time.sleep(LOOK_S)
            self._look()

    def _look(self) -> None:
        """Notice a kill, what has been journalled, and what boards were told."""
        if self._killer.fell():
            self._fall()
        last = self._shared.last_reached
        if last in self._underway:
            while next(iter(self._underway)) != last:
                del self._underway[next(iter(self._underway))]
            del self._underway[last]
        if not self._is_settled or len(self._owed) >= MOST_OWED or time.monotonic() > self._looked_at + LOOK_AT_JOURNAL_S:
            self._looked_at = time.monotonic()
            for line in self._journal.news():
                self._owed.pop(line, None)
                self._is_there = self._is_there or line == "host started"
        for board, line in self._client.heard():
            if isinstance(line, Ask) and self._is_there:
                self._asked.add(board)
            self._hear(board, line, self._shared.t)

    def _fall(self) -> None:
        """The bridge was killed: it is started anew, and meanwhile the railway goes on for a while."""
        self._journal.close()
        goes_on_s = self._chance.uniform(0.0, max(0.0, min(UNHEARD_S, MOST_UNHEARD_S - self._unheard_s)))
        self._unheard_s += goes_on_s
        self._goes_on_until_t = max(self._goes_on_until_t, self._shared.t + goes_on_s)
        self._start_bridge()

    def _start_bridge(self) -> None:
        self._is_there = self._is_settled = False
        self._asked.clear()
        self._bridge.start()
        self._killer.started()


class BoardsClient:
    """One client on the broker for all boards and the operator, as whoever may write everywhere."""

    def __init__(self, railway: str, broker: int, password: str) -> None:
        self._root = f"numbertaker/{railway}"
        self._heard: deque[MQTTMessage] = deque()
        self._infos: deque[MQTTMessageInfo] = deque()
        client = self._client = Client(CallbackAPIVersion.VERSION2, f"boards-{railway}")
        client.username_pw_set("numbertaker", password)
        client.max_queued_messages_set(0)
        client.max_inflight_messages_set(MOST_ON_THE_WAY)
        client.on_message = lambda _client, _data, message: self._heard.append(message)
        listening = threading.Event()
        client.on_subscribe = lambda *_: listening.set()
        client.connect(HOST, broker)
        client.loop_start()
        client.subscribe(f"{self._root}/boards/+/in", qos=1)
        assert listening.wait(LONGEST_S)

    def publish(self, suffix: str, payload: bytes, retain: bool = False) -> None:
        """Send at QoS 1; that the broker has acknowledged it is looked at later."""
        self._infos.append(self._client.publish(f"{self._root}/{suffix}", payload, qos=1, retain=retain))
        if len(self._infos) > MOST_ON_THE_WAY:
            self._infos.popleft().wait_for_publish(LONGEST_S)

    def heard(self) -> Iterator[tuple[str, HostLine]]:
        """What boards were told since last asked."""
        while self._heard:
            message = self._heard.popleft()
            line = parse_line(message.payload.rstrip(b"\n"))
            assert isinstance(line, (Ask, Again, Watch)), message.payload
            yield message.topic.split("/")[-2], line

    def stop(self) -> None:
        """Leave; raises RuntimeError where the broker has not acknowledged every message."""
        for info in self._infos:
            info.wait_for_publish(LONGEST_S)
            if not info.is_published():
                raise RuntimeError(f"the broker has not acknowledged message {info.mid}")
        self._client.disconnect()
        self._client.loop_stop()
