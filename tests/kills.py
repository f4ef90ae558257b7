"""Nothing acknowledged is lost: the bridge killed at any instant while boards go on speaking.

    python3 tests/kills.py --kills 500 --reports 100000     (in the project's environment; some minutes)

The whole bridge (`numbertaker run`), its core and its store are real, and so is Mosquitto with the settings that
`numbertaker broker` writes; the bridge is killed with SIGKILL at moments chosen by the seed. Boards are those of virtual
evenings on the demonstration railway, with and without mistakes, each evening's on a boot of their own. Only the clock is
another: it does not run ahead of what has reached the bridge, and after a kill it stands, once the railway has gone on
unheard for a while, until the bridge is back and has asked every board.

To hold: each numbered line that the broker acknowledged is in the journal and counts once; what each service said, and what
its page showed, is what a replay of the journal says, line for line; and an evening's register is that of an evening in
which nobody stopped the service (`trials/register.py` says what is compared). Exit status 1 where one of them does not.

SIGTERM, as `timeout` sends it, ends it after the evening: what there is by then is judged.
"""

from __future__ import annotations

import argparse
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

from trials.evenings import Boards, railway_in, staged
from trials.mortal_broker import MortalBroker, free_port
from trials.reckoning import Kept, Slices, kept, said_again, sessions
from trials.register import differences, register
from trials.sharing import Shared
from trials.speaker import Journal, Speaker
from trials.three_stations import ours
from trials.undisturbed import Undisturbed
from trials.victim import Bridge, Killer

from bridge.cli.wires import PASSWORD_FILE
from bridge.folder import FolderRead
from bridge.virtual.staging import Stage

FLICKERS = 40.0
"""Drop-outs of track detectors a minute, as over dirty wheels: they make reports without making the evening longer."""

MISTAKES = ("", "", "forgotten-set-out", "", "wrong-road", "", "no-token", "", "missed-lift", "", "unknown-tag")
"""Which evening has which mistake, in turn."""


def main() -> int:
    """Run a trial and print what came of it; 1 where something was lost, counted twice or said otherwise."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n\n", maxsplit=1)[0])
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--reports", type=int, default=100_000)
    parser.add_argument("--seed", type=int, default=1, help="of the evenings and of the moments of the kills")
    parser.add_argument("--unequal", type=int, default=0, help="so many registers that are not equal are told, not judged")
    arguments = parser.parse_args()
    program = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    if program is None:
        parser.error("this needs the program mosquitto: sudo apt-get install mosquitto")
    with tempfile.TemporaryDirectory() as home:
        trial = Trial(Path(home), program, arguments.kills, arguments.reports, arguments.seed, arguments.unequal)
        trial.run()
        return trial.judge()


class Trial:
    """One trial in a folder of its own."""

    def __init__(self, home: Path, program: str, kills: int, reports: int, seed: int, unequal: int) -> None:
        self._home, self._kills, self._reports, self._seed = home, kills, reports, seed
        self._unequal = unequal
        self._port = free_port()
        self._folder, self._read = railway_in(home, self._port)
        self._stage: Stage = staged(self._read, self._folder)
        self._store = home / "evenings.store"
        self._broker = MortalBroker(program, ours(self._folder, self._port)[1], self._port)
        self._shared = Shared(home / "clock")
        self._bridge = Bridge(self._folder, self._store, self._shared, home)
        self._killer = Killer(self._bridge, kills, reports, seed)
        self._speaker = Speaker(self._bridge, self._killer, self._shared, Journal(self._store), seed=seed)
        self._evenings = 0
        self._is_enough = False
        signal.signal(signal.SIGTERM, lambda *_: self.stop())

    def stop(self) -> None:
        """End it after this evening: what there is by then is judged."""
        self._is_enough = True

    def run(self) -> None:
        """Evening after evening until there have been enough reports, and kills."""
        began = time.monotonic()
        railway = self._read.railway
        assert railway is not None
        try:
            self._broker.start()
            password = (self._folder / PASSWORD_FILE).read_text(encoding="utf-8").strip()
            self._speaker.connect(railway.plant.id, self._port, password, railway.plant.boards)
            while not self._is_enough and (self._speaker.reports < self._reports or not self._killer.is_done):
                self._evenings += 1
                self._speaker.speak(boards(self._stage, self._seed, self._evenings, self._shared.t + 1.0))
            self._killer.stop()
            self._bridge.stop()
            self._speaker.stop()
        finally:
            self._bridge.leave()
            self._broker.kill()
        self._took_s = time.monotonic() - began

    def judge(self) -> int:
        """Print what came of it; 1 where it is not as it has to be."""
        speaker, fallen = self._speaker, self._killer.fallen
        found = kept(self._store, speaker.sent)
        how = ", ".join(f"{count} {mode}" for mode, count in sorted(fallen.items()))
        print(f"{sum(fallen.values())} kills ({how}) over {speaker.reports:,} reports of {self._evenings} evenings")
        print(
            f"  numbered lines acknowledged by the broker  {len(speaker.sent):>9,}   ({speaker.unheard:,} while none was up)"
        )
        print(f"  in the journal                             {found.rows:>9,}   ({found.repeated:,} of them once more)")
        print(f"  words told {speaker.words}, in the journal {found.words}")
        print(f"  lost {len(found.lost)}, counted twice {len(found.twice)}, changed {len(found.changed)}, gaps {found.gaps}")
        again = said_again(self._folder, self._store)
        wrong = self._compare_lives(again) + self._compare_evenings(again)
        print(f"  {self._took_s:,.0f} s; the bridge was started {found.starts:,} times")
        wrong += _counts(found, speaker.words, sum(fallen.values()), None if self._is_enough else self._kills)
        for line in wrong:
            print(f"WRONG: {line}")
        return int(bool(wrong))

    def _compare_lives(self, again: Sequence[str]) -> list[str]:
        lives, slices = self._bridge.lives, Slices(again)
        said = [n for n, life in enumerate(lives) if not slices.said(life.lines)]
        shown = [n for n, life in enumerate(lives) if not slices.shown(life.shown)]
        lines, looked = sum(len(life.lines) for life in lives), sum(bool(life.shown) for life in lives)
        print(f"  said live {lines:,} of {len(again):,} outcomes that a replay says; {looked} registers shown after a start")
        return [f"start {n} said what a replay does not say" for n in said] + [
            f"start {n} showed what a replay does not say" for n in shown
        ]

    def _compare_evenings(self, again: Sequence[str]) -> list[str]:
        told = sessions(again)
        wrong = [] if len(told) == self._evenings else [f"{len(told)} sessions of {self._evenings} evenings"]
        items = others = 0
        for n, rows in enumerate(told, 1):
            alone = register(undisturbed(self._read, self._stage, self._seed, n))
            items += sum(alone["irregularities"].values())
            lines = differences(alone, register(rows))
            others += bool(lines)
            for line in lines:
                print(f"  evening {n} otherwise than without a stop: {line}")
        held = f"{len(told)} registers ({items} irregularities in them) held against those of evenings without a stop"
        print(f"  {held}: {others} not equal")
        return [*wrong, f"{others} of {len(told)} registers are not equal"] if others > self._unequal else wrong


def boards(made: Stage, seed: int, number: int, zero_t: float) -> Boards:
    """The boards of an evening of the trial."""
    mistake = MISTAKES[number % len(MISTAKES)]
    chosen = [mistake] if mistake else []
    return Boards(made, 1_000 * seed + number, chosen, zero_t=zero_t, boot=number, flickers=FLICKERS)


def undisturbed(read: FolderRead, made: Stage, seed: int, number: int) -> list[dict[str, object]]:
    """What is said of that evening where nobody stops the service."""
    return [dict(row) for row in Undisturbed(read, boards(made, seed, number, 0.0)).run()]


def _counts(found: Kept, words: int, fallen: int, kills: int | None) -> list[str]:
    wrong = [f"{what}: {numbers[:5]}" for what, numbers in vars(found).items() if isinstance(numbers, list) and numbers]
    if found.words != words:
        wrong.append(f"{found.words} words in the journal of {words} told")
    if found.gaps:
        wrong.append(f"{found.gaps} gaps")
    if kills is not None and fallen != kills:
        wrong.append(f"{fallen} kills instead of {kills}")
    if found.starts != found.stops or not found.starts <= fallen + 1:
        wrong.append(f"{found.starts} starts and {found.stops} stops in the journal after {fallen} kills")
    return wrong


if __name__ == "__main__":
    sys.exit(main())
