"""The bridge that is killed, and who kills it.

Rule: a kill is a SIGKILL to the real process at a moment that nothing in it knows of.
"""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from collections import Counter
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any
from urllib.request import urlopen

from .sharing import Shared

CHILD = Path(__file__).with_name("mortal_bridge.py")
LONGEST_S = 30.0
ANY_S, START_S, COMMIT_S = 0.25, 0.5, 0.003
"""Real seconds in which a kill falls: behind the moment at which it is due, a start, a line that was sent."""

Row = Mapping[str, Any]


@dataclass
class Life:
    """One start of the bridge: where it prints, and what its page showed once it was up."""

    prefix: Path
    shown: list[Row] = field(default_factory=list)

    @property
    def lines(self) -> list[str]:
        """The outcomes it printed, whole lines only."""
        return [line[:-1] for line in self._printed() if line.startswith("{") and line.endswith("}\n")]

    @property
    def url(self) -> str | None:
        """Where its page is."""
        found = re.search(r"The page: .*?(http://127\S+?)\)?\s", "".join(self._printed()[:3]))
        return None if found is None else found[1]

    @property
    def errors(self) -> str:
        """What it had to say besides."""
        return self.prefix.with_suffix(".err").read_text(encoding="utf-8")

    def _printed(self) -> list[str]:
        path = self.prefix.with_suffix(".out")
        return path.read_text(encoding="utf-8").splitlines(keepends=True) if path.exists() else []


class Bridge:
    """`numbertaker run`, started as often as it is killed. `lives` are all of its starts."""

    def __init__(self, folder: Path, store: Path, shared: Shared, home: Path) -> None:
        words = [sys.executable, str(CHILD), str(folder), str(store), str(shared.path)]
        self.lives: list[Life] = []
        self._home = home
        self._pid: int | None = None
        self._nursery = subprocess.Popen(words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def start(self) -> None:
        life = Life(self._home / f"life-{len(self.lives):04}")
        self.lives.append(life)
        self._pid = int(self._told(f"start {life.prefix}"))

    def kill(self) -> None:
        """End it as nothing can foresee; nothing where it has ended."""
        if self._pid is not None:
            os.kill(self._pid, signal.SIGKILL)
            self._told("wait")
            self._pid = None

    def stop(self) -> None:
        """Ask it to end, and the process that starts it too."""
        assert self._pid is not None
        os.kill(self._pid, signal.SIGTERM)
        assert self._told("wait") == "0\n", self.lives[-1].errors
        self._pid = None

    def leave(self) -> None:
        """Nothing is left running."""
        self.kill()
        self._nursery.communicate(timeout=LONGEST_S)

    def look(self) -> None:
        """Read its page's register."""
        life = self.lives[-1]
        if life.url is not None:
            with suppress(OSError), urlopen(f"{life.url}api/snapshot", timeout=5) as answer:  # it may be killed just now
                life.shown = json.load(answer)["outcomes"]

    def _told(self, order: str) -> str:
        assert self._nursery.stdin is not None
        assert self._nursery.stdout is not None
        self._nursery.stdin.write(f"{order}\n")
        self._nursery.stdin.flush()
        return self._nursery.stdout.readline()


class Killer:
    """Kills the bridge so many times, spread evenly over so many reports by chance of the seed.

    A third of the kills falls just after a start, a sixth within milliseconds of a line that was sent, which is when it is
    being committed; the others at any moment.
    """

    def __init__(self, bridge: Bridge, kills: int, reports: int, seed: int) -> None:
        self._bridge = bridge
        self._chance = Random(f"kills {seed}")
        modes = ["start"] * (kills // 3) + ["commit"] * (kills // 6)
        modes += ["any"] * (kills - len(modes))
        due = [mode for mode in modes if mode != "start"]
        self._chance.shuffle(due)
        moments = sorted(self._chance.uniform(0.002, 0.998) * reports for _ in due)
        chains = Counter(self._chance.randrange(len(due)) for _ in range(modes.count("start"))) if due else Counter()
        self._plan = [(at, mode, chains[n]) for n, (at, mode) in enumerate(zip(moments, due, strict=True))]
        self._news = threading.Condition()
        self._reports = 0
        self._sent = 0
        self._starts = 0
        self._unseen = 0
        self._over = False
        self.fallen: Counter[str] = Counter()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def sent(self, reports: int) -> None:
        """A numbered line has gone out; so many reports have, in all."""
        with self._news:
            self._reports = reports
            self._sent += 1
            self._news.notify_all()

    def started(self) -> None:
        """The bridge has been started anew."""
        with self._news:
            self._starts += 1
            self._news.notify_all()

    def fell(self) -> bool:
        """Whether the bridge has been killed since last asked."""
        with self._news:
            fell, self._unseen = self._unseen > 0, 0
            return fell

    @property
    def is_done(self) -> bool:
        return not self._thread.is_alive()

    def stop(self) -> None:
        with self._news:
            self._over = True
            self._news.notify_all()
        self._thread.join(LONGEST_S)

    def _run(self) -> None:
        for at, mode, chain in self._plan:
            if not self._wait(lambda at=at: self._reports >= at):  # type: ignore[misc]
                return
            if mode == "commit":
                sent = self._sent
                if not self._wait(lambda sent=sent: self._sent > sent):  # type: ignore[misc]
                    return
                time.sleep(self._chance.uniform(0.0, COMMIT_S))
            else:
                time.sleep(self._chance.uniform(0.0, ANY_S))
            starts = self._kill(mode)
            for _ in range(chain):
                if not self._wait(lambda starts=starts: self._starts > starts):  # type: ignore[misc]
                    return
                time.sleep(self._chance.uniform(0.0, START_S))
                starts = self._kill("start")
            if not self._wait(lambda starts=starts: self._starts > starts):  # type: ignore[misc]
                return

    def _wait(self, is_so: Any) -> bool:
        with self._news:
            self._news.wait_for(lambda: self._over or is_so())
            return not self._over

    def _kill(self, mode: str) -> int:
        with self._news:
            starts = self._starts
        self._bridge.kill()
        with self._news:
            self._unseen += 1
            self.fallen[mode] += 1
        return starts
