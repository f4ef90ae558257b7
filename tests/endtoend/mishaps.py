"""What goes wrong in a session: a broker that can be killed, a bridge that can, and operators who tell it again.

Rule: whoever waits here waits for something that was said or shown, with a deadline.
"""

from __future__ import annotations

import json
import queue
import re
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.request import Request, urlopen

from ..waiting import free_port, wait_reachable

LONGEST_S = 60.0
HOST = "127.0.0.1"
Row = Mapping[str, Any]


class MortalBroker:
    """A Mosquitto on a port that stays the same."""

    def __init__(self, program: str, home: Path) -> None:
        self.port = free_port()
        settings = home / "broker.conf"
        settings.write_text(f"listener {self.port} {HOST}\nallow_anonymous true\npersistence false\nlog_dest none\n")
        self._command = [program, "-c", str(settings)]
        self.start()

    def start(self) -> None:
        self._process = subprocess.Popen(self._command)
        wait_reachable(self.port)

    def kill(self) -> None:
        self._process.kill()
        self._process.wait(10)


class LoneBridge:
    """`numbertaker run` (lone_bridge.py), started. `lines` are the outcomes that it has printed, whole lines only."""

    def __init__(self, *words: str) -> None:
        command = [sys.executable, str(Path(__file__).with_name("lone_bridge.py")), *words]
        self._process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        self.lines: list[str] = []
        self.url = ""
        self._news = threading.Condition()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        with self._news:
            assert self._news.wait_for(lambda: self.url, LONGEST_S), self._process.stderr

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            with self._news:
                if line.startswith("{") and line.endswith("}\n"):
                    self.lines.append(line.rstrip("\n"))
                elif found := re.search(r"The page: .*?(http://127\S+?)\)?\s", line):
                    self.url = found[1]
                self._news.notify_all()

    def wait(self, is_so: Callable[[Row], object]) -> Row:
        """The first outcome, so far or from now on, that is so."""
        looked = 0
        until = time.monotonic() + LONGEST_S
        with self._news:
            while True:
                while looked < len(self.lines):
                    row = json.loads(self.lines[looked])
                    looked += 1
                    if is_so(row):
                        return row
                assert self._news.wait(until - time.monotonic()), self.lines[-3:]

    def tell(self, words: str, who: str = "ann") -> dict[str, Any]:
        """Tell it something at its page. Raises URLError where it is not there."""
        body = json.dumps({"words": words, "who": who}).encode()
        with urlopen(Request(f"{self.url}api/tell", body, {"content-type": "application/json"}), timeout=10) as answer:
            return json.load(answer)

    def kill(self) -> None:
        self._process.kill()
        self._process.wait(10)
        self._reader.join(10)

    def stop(self) -> None:
        self._process.terminate()
        assert self._process.wait(20) == 0, self._process.stderr and self._process.stderr.read()
        self._reader.join(10)


class Crew:
    """Tells the bridge that is there what the crews say, and tells it again where none is."""

    def __init__(self) -> None:
        self._words: queue.Queue[str | None] = queue.Queue()
        self._bridge: LoneBridge | None = None
        self._there = threading.Event()
        self.refused: list[str] = []
        self._thread = threading.Thread(target=self._tell, daemon=True)
        self._thread.start()

    def say(self, words: str) -> None:
        self._words.put(words)

    def face(self, bridge: LoneBridge | None) -> None:
        """Which bridge to tell; None while there is none."""
        self._bridge = bridge
        (self._there.clear if bridge is None else self._there.set)()

    def stop(self) -> None:
        self._words.put(None)
        self._there.set()
        self._thread.join(10)

    def _tell(self) -> None:
        while (words := self._words.get()) is not None:
            while self._there.wait(LONGEST_S):
                bridge = self._bridge
                if bridge is None:
                    return
                try:
                    answer = bridge.tell(words, "crew")
                except (URLError, OSError):
                    self._there.wait(0.05)
                    continue
                if not answer["accepted"]:
                    self.refused.append(f"{words}: {answer['text']}")
                break
