"""What a broker that is killed costs: with our settings nothing, with those it comes with losses that are all named.

    python3 tests/broker_kills.py --kills 50 --settings ours     (in the project's environment; some minutes)
    python3 tests/broker_kills.py --kills 50 --settings stock

The bridge (`numbertaker run` in a process of its own, its journal on the disk) and Mosquitto are real; "ours" is what
`numbertaker broker` has written, "stock" is Debian 12's file with a listener that lets everybody in. Three boards report
numbered changes at QoS 1. Every second kill (SIGKILL, at an instant chosen by the seed) meets a broker that has the bridge
connected; every other one comes after the bridge itself was killed and boards went on for a while: all they reported then
waits in the broker. Then both are started again, boards report little until they are back, and the next kill waits until
every number used is in the journal or named by it as missing.

To hold: with ours every number is in the journal, with stock every number that is not is named in a gap and stands on the
page as `reports-lost`; nothing is named that is there. Exit status 1 where it does not.
"""

from __future__ import annotations

import argparse
import random
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

from trials.books import Account, Books, Number, account
from trials.mortal_broker import MortalBroker, free_port
from trials.ring_boards import RingBoards
from trials.three_stations import BOARDS, RAILWAY, Bridge, make_folder, ours, stock

BUSY, QUIET = 40.0, 0.5
"""Reports a second and board: up to a kill, and while broker and bridge come back. In that time a board must not report more
than it holds: what a broker confirmed in the instant before it would have saved it, only the board still has."""

AWAY_AT_LEAST = 45
"""Reports of each board while the bridge is away: more than a board holds."""

SETTLED_S = 30.0
ASKED_S = 3.0
"""A gap is asked for three times, 1 s apart."""

GONE_S = 6.0
"""After 5 s without an answer it is said as `reports-lost`."""


class Trial:
    """One trial in a folder of its own."""

    def __init__(self, home: Path, program: str, settings: str, seed: int) -> None:
        folder, port = home / "trial", free_port()
        make_folder(folder, port)
        login, conf = (None, stock(home, port)) if settings == "stock" else ours(folder, port)
        self.store = home / "trial.store"
        self._chance = random.Random(seed)
        self._broker = MortalBroker(program, conf, port)
        self._bridge = Bridge(folder, self.store)
        self._books = Books(self.store)
        self._gone: set[Number] = set()
        self.waits: list[float] = []
        self._port, self._login = port, login

    def run(self, kills: int) -> Account:
        """Kill so many times; what came of it."""
        with ExitStack() as stack:
            stack.callback(self._broker.kill)
            self._broker.start()
            stack.callback(self._bridge.end)
            self._bridge.start()
            self._boards = RingBoards(RAILWAY, self._port, BOARDS, self._login)
            stack.callback(self._boards.stop)
            self._until(lambda: self._missing() is not None and self._books.boards == BOARDS.keys(), "boards to be heard")
            self._bridge.tell("begin 19:00")
            for n in range(kills):
                (self._kill_while_away if n % 2 else self._kill_while_there)()
                began = time.monotonic()
                self._settle()
                self.waits.append(time.monotonic() - began)
                time.sleep(self._chance.uniform(0.2, 0.6))
            self._boards.go(0)
            self._settle()
            time.sleep(GONE_S if self._gone else 0.0)
            used = self._boards.used
            self._settle()
            self._bridge.end(is_kind=True)
            return account(self.store, used)

    def _kill_while_there(self) -> None:
        self._boards.go(BUSY)
        time.sleep(self._chance.uniform(0.2, 0.8))
        self._broker.kill()
        self._boards.go(QUIET)
        time.sleep(self._chance.uniform(0.0, 0.3))
        self._broker.start()

    def _kill_while_away(self) -> None:
        self._bridge.end()
        before = self._boards.used
        self._boards.go(BUSY)
        self._until(
            lambda: all(used - before[board] >= AWAY_AT_LEAST for board, used in self._boards.used.items()), "reports"
        )
        time.sleep(self._chance.uniform(0.0, 0.3))
        self._broker.kill()
        self._boards.go(QUIET)
        time.sleep(self._chance.uniform(0.0, 0.3))
        self._broker.start()
        self._bridge.start()

    def _settle(self) -> None:
        """Until each number used is in the journal, or has been named for so long that it was asked for to no avail."""
        used = self._boards.used
        named_at: float | None = None

        def is_settled() -> bool:
            nonlocal named_at
            missing = self._books.missing(used) - self._gone
            if not missing:
                return True
            if missing <= self._books.named():
                named_at = named_at or time.monotonic()
                return time.monotonic() - named_at > ASKED_S
            return False

        self._until(is_settled, "every number to be there or named")
        self._gone |= self._books.missing(used)

    def _missing(self) -> set[Number]:
        return self._books.missing(self._boards.used)

    def _until(self, is_so: Callable[[], object], what: str) -> None:
        until = time.monotonic() + SETTLED_S
        while not is_so():
            if time.monotonic() > until:
                with suppress(URLError, OSError):
                    print(urlopen(f"{self._bridge.url}api/snapshot", timeout=5).read().decode()[-2_000:], file=sys.stderr)
                raise TimeoutError(f"waited {SETTLED_S:g} s for {what}; missing {sorted(self._missing())[:10]}")
            time.sleep(0.05)


def judged(found: Account, settings: str) -> list[str]:
    """What is not as it has to be."""
    wrong = []
    if settings == "ours" and found.lost:
        wrong.append(f"lost: {sorted(found.lost)[:10]}")
    if found.lost - found.named:
        wrong.append(f"lost and named nowhere: {sorted(found.lost - found.named)[:10]}")
    if found.named - found.lost:
        wrong.append(f"named missing and yet there: {sorted(found.named - found.lost)[:10]}")
    if found.lost - found.said:
        wrong.append(f"lost, and no reports-lost: {sorted(found.lost - found.said)[:10]}")
    return wrong


def main() -> int:
    """Run a trial and print what came of it; 1 where something was lost that must not be, or is not named."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--kills", type=int, default=50)
    parser.add_argument("--settings", choices=("ours", "stock"), default="ours")
    parser.add_argument("--seed", type=int, default=1, help="of the instants of the kills")
    arguments = parser.parse_args()
    program = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    if program is None:
        parser.error("this needs the program mosquitto: sudo apt-get install mosquitto")
    began = time.monotonic()
    with tempfile.TemporaryDirectory() as home:
        trial = Trial(Path(home), program, arguments.settings, arguments.seed)
        found = trial.run(arguments.kills)
    away = arguments.kills // 2
    print(f"{arguments.kills} kills of the broker, {arguments.settings} settings; at {away} the bridge was away")
    print(f"  numbers used {found.there + len(found.lost):,}, in the journal {found.there:,} ({found.repeated:,} once more)")
    print(f"  lost {len(found.lost):,}, of these named {len(found.lost & found.named):,}; reports-lost {found.items:,}")
    print(f"  settled after {max(trial.waits):.1f} s at most; {time.monotonic() - began:.0f} s in all")
    wrong = judged(found, arguments.settings)
    for line in wrong:
        print(f"WRONG: {line}")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
