"""`numbertaker run`: a live session with real boards.

Rule: what a person has to know is said at the start, in few lines: which store, which session, which page. Afterwards only
what goes wrong is said, once each.
"""

from __future__ import annotations

import argparse
import json
import signal
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from bridge.cli.addresses import LISTEN, address, pages
from bridge.cli.folders import taken
from bridge.cli.printing import complain
from bridge.cli.wires import Wishes, links
from bridge.dashboard import create_app, listen
from bridge.folder import FolderRead, load
from bridge.journal import NotWrittenError, StoreError
from bridge.links.mqtt import MqttLink
from bridge.service.core import CORE
from bridge.service.folding import FoldError
from bridge.service.handover import Handover
from bridge.service.loop import Service
from bridge.service.notify import Supervisor
from bridge.service.resuming import Resumed, take_up
from bridge.service.sweeping import spare

HELP = "a live session with your boards"
EPILOG = """example:
  numbertaker run my-railway
  numbertaker run my-railway --store evenings.store --listen 127.0.0.1:8610 --broker 192.168.1.5

Boards on serial ports are found by what they say, whatever the port is called; --port names one that is not found by
itself (a port that is not USB, a pseudo-terminal). The broker is that of railway.toml, or the one named here.
Ctrl-C stops it. Started again on the same store it goes on with the session.
Exit status: 1 where folder, store or address cannot be used, 2 on wrong usage."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "run", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    add_arguments(parser)
    parser.set_defaults(run=run)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """What is run, and on what."""
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder in which railway.toml stands")
    parser.add_argument("--store", metavar="FILE", type=Path, help="keep the journal there; else in FOLDER, RAILWAY.store")
    parser.add_argument(
        "--listen",
        metavar="HOST:PORT",
        type=address(*LISTEN),
        default=LISTEN,
        help=f"where the page is to be had; {LISTEN[0]}:{LISTEN[1]} unless said, which is every network of this machine",
    )
    Wishes.add_arguments(parser)


def run(arguments: argparse.Namespace) -> int:
    """Serve until a signal; 1 where it cannot be begun, or where the core fails."""
    read = taken(arguments.folder)
    if read is None:
        return 1
    try:
        return _served(arguments, read)
    except (StoreError, FoldError, NotWrittenError, OSError) as error:
        complain("run", str(error), *(_AFTER_A_FAILURE if isinstance(error, FoldError) else ()))
        return 1


_AFTER_A_FAILURE = (
    "This is an error of the program; everything up to it is in the journal. Please report it with what "
    "`numbertaker capture` prints. To go on with the evening, name another store with --store.",
)


def _served(arguments: argparse.Namespace, read: FolderRead) -> int:
    assert read.railway is not None
    plant = read.railway.plant
    store: Path = arguments.store or arguments.folder / f"{plant.id}.store"
    with ExitStack() as stack:
        resumed = take_up(store, read, CORE, folder_again=again(arguments.folder, plant.id))
        stack.callback(resumed.desk.close)
        wires = links(read, resumed.clock, Wishes.of(arguments))
        outlets = [publisher(link) for link in wires if isinstance(link, MqttLink)]
        service = Service(resumed, wires, CORE, outlets, _say, Supervisor.of())
        spare()
        after = Handover(arguments.folder, store, service)
        listening = listen(create_app(service, after=after), *arguments.listen)
        stack.callback(listening.stop)
        _greet(plant.name or plant.id, store, resumed, pages(listening.host, listening.port))
        stop_on_signals(service.stop, listening.leave)
        service.run()
    return 0


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _greet(name: str, store: Path, resumed: Resumed, addresses: Sequence[str]) -> None:
    number = resumed.desk.session
    is_new = resumed.desk.evening.n == 0
    print(f"{name}: {'session' if is_new else 'goes on with session'} {number}, journal in {store}")
    print(f"The page: {addresses[0]}" + "".join(f"  (on this machine: {other})" for other in addresses[1:]))
    print("Ctrl-C stops; started again it goes on with the session.", flush=True)


def stop_on_signals(*stops: Callable[[], None]) -> None:
    """Call all of `stops` on SIGINT or SIGTERM; a second one ends the process at once."""

    def asked(number: int, _frame: object) -> None:
        signal.signal(number, signal.SIG_DFL)
        for stop in stops:
            stop()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, asked)


def publisher(link: MqttLink) -> Callable[[Mapping[str, Any]], None]:
    """What hands every outcome to the broker, as `says/<kind>` under the railway's topic."""

    def publish(row: Mapping[str, Any]) -> None:
        link.publish(f"says/{row['says']}", json.dumps(row, ensure_ascii=False))

    return publish


def again(folder: Path, railway: str) -> Callable[[], FolderRead | None]:
    """Reads the folder for the next session; None, and why on stderr, where it cannot come into force."""

    def read_again() -> FolderRead | None:
        try:
            read = load(folder)
        except Exception as error:  # whatever it is, the evening goes on
            complain("run", f"The next session goes on with the folder as it was: {folder} cannot be read ({error}).")
            return None
        if read.railway is not None and read.railway.plant.id == railway:
            return read
        why = "it has faults (see `numbertaker check`)" if read.railway is None else "it is another railway's"
        complain("run", f"The next session goes on with the folder as it was: {folder} has changed, and {why}.")
        return None

    return read_again
