"""`numbertaker simulate`: virtual boards of a railway folder, to a capture with its truth or live on real wires.

Rule: what it writes says how it came about (seed, mistakes), and comes about the same way again.
"""

from __future__ import annotations

import argparse
import sys
import textwrap
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from bridge.cli.addresses import BROKER_PORT, address
from bridge.cli.folders import taken
from bridge.cli.grown import grown_folder, minutes, stations
from bridge.cli.printing import complain
from bridge.cli.rehearsal import Wiring, speed, wiring
from bridge.cli.signals import stop_on_signals
from bridge.virtual.evening import Evening
from bridge.virtual.live import Live
from bridge.virtual.recording import Recording
from bridge.virtual.script import GRAMMAR, ScriptError
from bridge.virtual.staging import Stage, StagingError, stage

HELP = "virtual boards of a railway folder: a capture with its truth, or live on pseudo-terminals and MQTT"
EPILOG = """example:
  numbertaker simulate demo/railway --seed 7 --faults wrong-road --out trial
  numbertaker replay demo/railway trial.capture
  numbertaker simulate demo/railway --faults list
  numbertaker simulate demo/railway --script demo/railway/evening.script
  numbertaker simulate demo/railway --pty
  numbertaker simulate --grow 20 --minutes 10 --out large

Crews work timetable.csv and moves.csv by themselves, and what they could not do is told with the reason; with --script they
do what it says instead, and --faults takes the mistakes that it names. Live, boards that the folder puts on MQTT speak
through the broker named with --broker, all others through pseudo-terminals, whose paths are printed; the evening begins
once all boards have been asked. Ctrl-C stops it.
With --grow a railway of N stations, 40 wagons at each, is grown from the seed and written as a folder: FOLDER where it is
given, else PREFIX-railway. Crews work it to the end of its plan, or for so many minutes as --minutes says.
Exit status: 1 where folder, script or wires cannot be used, 2 on wrong usage.

what a script may say:
"""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "simulate",
        help=HELP,
        description=HELP,
        epilog=EPILOG + textwrap.indent(GRAMMAR, "  "),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, nargs="?", help="the folder in which railway.toml stands")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the same evening (1)")
    parser.add_argument("--faults", default="", metavar="LIST", help="mistakes to plant, commas between; `list` names them")
    parser.add_argument(
        "--out", metavar="PREFIX", help="write PREFIX.capture and PREFIX.truth.json (simulated); live the truth"
    )
    parser.add_argument("--script", type=Path, metavar="FILE", help="crews do what this script says, not the plan")
    parser.add_argument("--grow", type=stations, metavar="N", help="a grown railway of N stations, 40 wagons at each")
    parser.add_argument("--minutes", type=minutes, metavar="M", help="simulated, at most M real minutes of the session")
    parser.add_argument("--pty", action="store_true", help="live, on pseudo-terminals")
    parser.add_argument(
        "--broker",
        metavar="HOST:PORT",
        type=address("127.0.0.1", BROKER_PORT),
        help="live, with the boards of link mqtt on this broker",
    )
    parser.add_argument("--speed", type=speed, default=1.0, metavar="N", help="live, N times as fast (1)")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write a capture and its truth, or let the boards live."""
    prefix = arguments.out or "simulated"
    folder: Path | None = arguments.folder
    if arguments.grow is not None:
        folder = grown_folder(arguments.grow, arguments.seed, folder or Path(f"{prefix}-railway"))
    elif folder is None:
        complain("simulate", "name the folder of a railway, or let one grow with --grow N.")
        return 2
    read = taken(folder) if folder is not None else None
    if folder is None or read is None or read.railway is None:
        return 1
    try:
        made = stage(read.railway, arguments.script)
        if arguments.faults == "list":
            print(choices(made))
            return 0
        evening = made.evening(arguments.seed, chosen(arguments.faults))
        if arguments.pty or arguments.broker is not None:
            return _live(arguments, evening, folder)
        if arguments.minutes is not None:
            evening.break_off(arguments.minutes * 60.0)
        capture = Recording(evening).run()
        tell_reasons(evening)
        return _write({f"{prefix}.capture": capture, f"{prefix}.truth.json": evening.truth_json()})
    except StagingError as error:
        complain("simulate", str(error))
        return 2
    except ScriptError as error:
        print(error, file=sys.stderr)
        return 1


def tell_reasons(evening: Evening) -> None:
    """Say what crews could not work as booked, and why."""
    for reason in evening.scene.truth.reasons:
        print(f"not as booked: {reason}", file=sys.stderr)


def chosen(faults: str) -> list[str]:
    """The names in a list with commas."""
    return [name.strip() for name in faults.split(",") if name.strip()]


def choices(made: Stage) -> str:
    """The mistakes that can be chosen, a line each."""
    names = made.choices()
    width = max(map(len, names))
    return "\n".join(f"{name:<{width}}  {what}" for name, what in names.items())


def _live(arguments: argparse.Namespace, evening: Evening, folder: Path) -> int:
    pace = arguments.speed
    try:
        wires = wiring(evening.railway.plant, arguments.broker)
        live = Live(
            evening,
            wires.wires,
            lambda: time.monotonic() * float(pace),
            speed=pace,
            on_words=_teller(wires),
        )
        stop_on_signals(live.stop)
        _greet(arguments, wires, folder)
        live.run()
    except OSError as error:
        where = "" if arguments.broker is None else f" (broker {arguments.broker[0]}:{arguments.broker[1]})"
        complain("simulate", f"the wires cannot be used{where}: {error}.")
        return 1
    print("The evening is over." if evening.finished else "Stopped.", flush=True)
    tell_reasons(evening)
    return _write({f"{arguments.out}.truth.json": evening.truth_json()}) if arguments.out else 0


def _greet(arguments: argparse.Namespace, wires: Wiring, folder: Path) -> None:
    for board, path in wires.paths.items():
        print(f"board {board} on {path}")
    for board in wires.by_broker:
        print(f"board {board} on the broker")
    ports = "".join(f" --port {path}" for path in wires.paths.values())
    broker = "" if arguments.broker is None else f" --broker {arguments.broker[0]}:{arguments.broker[1]}"
    print(f"Listen to them so: numbertaker run {folder}{ports}{broker}")
    if arguments.speed != 1:
        print(
            "The clock of `run` goes at its own pace: at another speed than 1 its waits and what it calls late do not fit."
        )
    print("It begins once all boards have been asked. Ctrl-C stops it.", flush=True)


def _teller(wires: Wiring) -> Callable[[str], None]:
    """Hands on an operator's words: to the broker where there is one; printed either way."""

    def tell(words: str) -> None:
        if wires.broker is not None:
            wires.broker.tell(words)
        print(f"told: {words}" if wires.broker is not None else f"tell it now: {words}", flush=True)

    return tell


def _write(texts: dict[str, str]) -> int:
    try:
        for name, text in texts.items():
            Path(name).write_text(text, encoding="utf-8")
            print(name)
    except OSError as error:
        complain("simulate", f"{error.filename} cannot be written: {error.strerror}.")
        return 1
    return 0
