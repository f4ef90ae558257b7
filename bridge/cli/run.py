"""`numbertaker run`: a live session with real boards.

Rule: what a person has to know is said at the start, in few lines: which store, which session, which page. Afterwards only
what goes wrong is said, once each.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from bridge.cli.addresses import LISTEN, address, pages
from bridge.cli.folders import tell_refused
from bridge.cli.guide import guided, is_followed
from bridge.cli.pins import HELP as PIN_HELP
from bridge.cli.pins import PinError, pin_code, pin_for, pin_line
from bridge.cli.printing import complain
from bridge.cli.signals import stop_on_signals
from bridge.cli.wires import Wishes, links
from bridge.dashboard import Pin, create_app, listen
from bridge.folder import FolderRead, load
from bridge.journal import NotWrittenError, StoreError
from bridge.links.mqtt import MqttLink
from bridge.links.state_topics import StateTopics
from bridge.service.core import CORE
from bridge.service.folding import FoldError
from bridge.service.founding import Founding
from bridge.service.handover import Handover
from bridge.service.loop import Service
from bridge.service.notify import Supervisor
from bridge.service.resuming import Resumed, take_up
from bridge.service.sweeping import spare

SWITCH_S = 0.001
"""For how long a page's thread may hold up the loop's: as it comes, Python lets it for 5 ms."""

HELP = "a live session with your boards"
EPILOG = """example:
  numbertaker run my-railway
  numbertaker run my-railway --store evenings.store --listen 127.0.0.1:8610 --broker 192.168.1.5

Boards on serial ports are found by what they say, whatever the port is called; --port names one that is not found by
itself (a port that is not USB, a pseudo-terminal). The broker is that of railway.toml, or the one named here.
Ctrl-C stops it. Started again on the same store it goes on with the session.

Where FOLDER is refused, or is not there, its faults are printed, and on a terminal the page shows them too, or leads
through making a folder; it goes on into the session by itself. A service and a script have no terminal, and end with 1 at
once; --guide and --no-guide say otherwise.
Exit status: 1 where folder, store or address cannot be used, also after the guide, 2 on wrong usage."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "run", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    add_arguments(parser)
    parser.add_argument("--pin", metavar="DIGITS", type=pin_code, help=PIN_HELP)
    parser.add_argument(
        "--guide",
        action=argparse.BooleanOptionalAction,
        help="where FOLDER is refused or not there, serve the page all the same; unless said, only on a terminal",
    )
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
    read, pin = load(arguments.folder), None
    tell_refused(arguments.folder, read)
    try:
        if read.railway is None:
            if not is_followed(arguments):
                if arguments.guide is None:
                    _say(f"With --guide, `numbertaker run {arguments.folder}` serves a page that leads through it.")
                return 1
            found = guided(arguments, read)
            if found is None:
                return 1
            read, pin, arguments.listen = found.read, found.pin, found.listen
        return _served(arguments, read, pin)
    except (StoreError, FoldError, NotWrittenError, PinError, OSError) as error:
        complain("run", str(error), *(_AFTER_A_FAILURE if isinstance(error, FoldError) else ()))
        return 1


_AFTER_A_FAILURE = (
    "This is an error of the program; everything up to it is in the journal. Please report it with what "
    "`numbertaker capture` prints. To go on with the evening, name another store with --store.",
)


def _served(arguments: argparse.Namespace, read: FolderRead, shown: Pin | None) -> int:
    """The session; `shown` is a PIN that was printed already."""
    assert read.railway is not None
    plant = read.railway.plant
    store: Path = arguments.store or arguments.folder / f"{plant.id}.store"
    pin = pin_for(arguments.listen[0], arguments.pin, store.parent, None if shown is None else shown.code)
    with ExitStack() as stack:
        resumed = take_up(store, read, CORE, folder_again=again(arguments.folder, plant.id))
        stack.callback(resumed.desk.close)
        wires = links(read, resumed.clock, Wishes.of(arguments))
        outlets = [publisher(link) for link in wires if isinstance(link, MqttLink)]
        states = [StateTopics(plant.id, link.broker) for link in wires if isinstance(link, MqttLink)]
        service = Service(resumed, [*wires, *states], CORE, outlets, _say, Supervisor.of())
        for state in states:
            keep_true(state, service)
        spare()
        sys.setswitchinterval(SWITCH_S)
        after = Handover(arguments.folder, store, service)
        ground = Founding(arguments.folder, read, in_session=True)
        listening = listen(create_app(service, after=after, ground=ground, pin=pin), *arguments.listen)
        stack.callback(listening.stop)
        _greet(plant.name or plant.id, store, resumed, pages(listening.host, listening.port), pin)
        stop_on_signals(service.stop, listening.leave)
        service.run()
    return 0


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _greet(name: str, store: Path, resumed: Resumed, addresses: Sequence[str], pin: Pin | None) -> None:
    number = resumed.desk.session
    is_new = resumed.desk.evening.n == 0
    print(f"{name}: {'session' if is_new else 'goes on with session'} {number}, journal in {store}")
    print(f"The page: {addresses[0]}" + "".join(f"  (on this machine: {other})" for other in addresses[1:]))
    print(f"{pin_line(pin)}Ctrl-C stops; started again it goes on with the session.", flush=True)


def publisher(link: MqttLink) -> Callable[[Mapping[str, Any]], None]:
    """What hands every outcome to the broker, as `says/<kind>` under the railway's topic."""

    def publish(row: Mapping[str, Any]) -> None:
        link.publish(f"says/{row['says']}", json.dumps(row, ensure_ascii=False))

    return publish


def keep_true(state: StateTopics, service: Service) -> None:
    """Have the state's topics say what the service's pictures show, the newest from now on."""
    state.show(service.latest().snapshot)
    service.subscribe(lambda shown: state.show(shown.snapshot))


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
