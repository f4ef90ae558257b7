"""`numbertaker demo`: the whole job with no hardware, on simulated boards and real wires.

Rule: nothing here is made up for show. The boards are virtual, everything behind their wires is what a session with real
boards runs on.
"""

from __future__ import annotations

import argparse
import shutil
import sys
import tempfile
import threading
import time
import webbrowser
from concurrent.futures import Future
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from fastapi import FastAPI

import bridge
from bridge.cli.addresses import LISTEN, Address, address, pages
from bridge.cli.folders import taken
from bridge.cli.pins import HELP as PIN_HELP
from bridge.cli.pins import PinError, pin_code, pin_for, pin_line
from bridge.cli.printing import complain
from bridge.cli.private_broker import HOST, private_broker
from bridge.cli.rehearsal import Wiring, speed, wiring
from bridge.cli.run import again, keep_true
from bridge.cli.showing import Account
from bridge.cli.signals import stop_on_signals
from bridge.cli.simulate import choices, chosen, tell_reasons
from bridge.dashboard import Answer, Listening, Pin, create_app, listen
from bridge.folder import FolderRead
from bridge.journal import NotWrittenError, StoreError
from bridge.links.link import Clock, Link
from bridge.links.mqtt import Broker, MqttLink
from bridge.links.serial import SerialLink
from bridge.links.state_topics import StateTopics
from bridge.service.core import CORE
from bridge.service.folding import FoldError
from bridge.service.handover import Handover
from bridge.service.loop import Service
from bridge.service.resuming import take_up
from bridge.virtual.beside import Beside
from bridge.virtual.evening import Evening
from bridge.virtual.live import Live
from bridge.virtual.script import ScriptError
from bridge.virtual.staging import StagingError, stage

HELP = "the whole job with no hardware: an invented railway on simulated boards"
EPILOG = """example:
  numbertaker demo
  numbertaker demo --speed 10 --faults wrong-road,missed-lift --truth
  numbertaker demo --faults list

Crews work its timetable and moves; what they could not do is told at the end, with the reason. The evening takes some 18
minutes; --speed 10 shows it in less than two. Ctrl-C stops it.
Exit status: 1 where it cannot be begun, 2 on wrong usage."""

EVENING_MIN = 18.0  # measured, seeds 1 to 30: 17.4 to 18.5


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "demo", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--speed", type=speed, default=1.0, metavar="N", help="N times as fast as a real evening (1)")
    parser.add_argument(
        "--faults", default="", metavar="LIST", help="mistakes to plant, with commas between; `list` names them"
    )
    parser.add_argument(
        "--truth",
        action="store_true",
        help="show on the page what really happens beside what is believed; at the end hold the one against the other",
    )
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="another seed is another evening (1)")
    parser.add_argument(
        "--listen",
        metavar="HOST:PORT",
        type=address(*LISTEN),
        help=f"where the page is to be had; {LISTEN[0]}:{LISTEN[1]} unless said, or a port that is free",
    )
    parser.add_argument("--pin", metavar="DIGITS", type=pin_code, help=PIN_HELP)
    parser.add_argument("--no-browser", action="store_true", help="do not open the page in a browser")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Show the evening until Ctrl-C."""
    source = demonstration()
    if source is None:
        complain("demo", "the demonstration railway is not there; install numbertaker anew.")
        return 1
    read = taken(source)
    if read is None or read.railway is None:
        return 1
    try:
        made = stage(read.railway)
        if arguments.faults == "list":
            print(choices(made))
            return 0
        evening = made.evening(arguments.seed, chosen(arguments.faults))
        home = Path(tempfile.mkdtemp(prefix="numbertaker-demo-"))  # kept: its journal is there to be looked at afterwards
        shutil.copytree(source, home / "railway")
        return _Demonstration(arguments, read, home, evening).show()
    except StagingError as error:
        complain("demo", str(error))
        return 2
    except (OSError, StoreError, NotWrittenError, FoldError, ScriptError, PinError) as error:
        complain("demo", str(error))
        return 1


def demonstration() -> Path | None:
    """The folder of the demonstration railway: packed with the program, or in a checkout."""
    package = Path(bridge.__file__).parent
    places = (package / "_demo", package.parent / "demo" / "railway")
    return next((place for place in places if (place / "railway.toml").is_file()), None)


@dataclass
class _Demonstration:
    arguments: argparse.Namespace
    read: FolderRead
    home: Path
    evening: Evening

    def show(self) -> int:
        """Wire everything together and serve until a signal."""
        assert self.read.railway is not None
        plant, pace = self.read.railway.plant, self.arguments.speed
        account = Account(self.read.railway)

        def fast() -> float:
            return time.monotonic() * float(pace)

        with ExitStack() as stack:
            port = stack.enter_context(private_broker(self.home))
            wires = wiring(plant, None if port is None else (HOST, port))
            store = self.home / f"{plant.id}.store"
            resumed = take_up(store, self.read, CORE, folder_again=again(self.home / "railway", plant.id), pace=pace)
            stack.callback(resumed.desk.close)
            began_s = fast() - resumed.clock()
            links = _links(resumed.clock, plant.id, wires, port)
            states = [StateTopics(plant.id, link.broker) for link in links if isinstance(link, MqttLink)]
            service = Service(resumed, [*links, *states], CORE, [account.hear], _say)
            for state in states:
                keep_true(state, service)
            beside = Beside(self.evening) if self.arguments.truth else None
            after = Handover(self.home / "railway", store, service)
            pin = pin_for((self.arguments.listen or LISTEN)[0], self.arguments.pin, self.home)
            app = create_app(service, truth=beside, after=after, pin=pin)
            listening = _listening(app, self.arguments.listen)
            stack.callback(listening.stop)
            live = Live(
                self.evening,
                wires.wires,
                fast,
                speed=pace,
                on_words=lambda words: _tell(service, words),
                on_over=lambda: self._tell_the_end(account, live.zero_s - began_s, store),
                on_turn=None if beside is None else beside.look,
            )
            self._greet(wires, listening, pin)
            stop_on_signals(service.stop)
            thread = _in_background(live)
            service.run()
            live.stop()
            thread.join(5.0)
        print(f"\nThe journal stays in {store}: `numbertaker audit {store}` writes the report of the evening.")
        return 0

    def _greet(self, wires: Wiring, listening: Listening, pin: Pin | None) -> None:
        minutes = max(1, round(EVENING_MIN / self.arguments.speed))
        addresses = pages(listening.host, listening.port)
        print(f"{self.evening.railway.plant.name}: an evening of about {minutes} min on simulated boards.")
        for board, path in wires.paths.items():
            print(f"  board {board} on pseudo-terminal {path}")
        for board in wires.by_broker:
            print(f"  board {board} on a broker of its own")
        if wires.broker is None:
            print("  (no broker: the program mosquitto is not installed, so all boards are on pseudo-terminals)")
        print(f"The page: {addresses[0]}" + "".join(f"  (on this machine: {other})" for other in addresses[1:]))
        print(f"{pin_line(pin)}Ctrl-C stops.\n", flush=True)
        if not self.arguments.no_browser:
            webbrowser.open(addresses[-1])

    def _tell_the_end(self, account: Account, shift_s: float, store: Path) -> None:
        print(f"\nThe evening is over. {account.summary()}")
        tell_reasons(self.evening)
        if self.arguments.truth:
            print(account.held_against(self.evening.truth_json(), shift_s))
        print(f"The page stays until Ctrl-C. The journal is in {store}.", flush=True)


def _links(clock: Clock, railway: str, wires: Wiring, port: int | None) -> list[Link]:
    made: list[Link] = []
    if wires.paths:
        made.append(SerialLink(clock, tuple(wires.paths.values()), list_ports=list))
    if port is not None and wires.by_broker:
        made.append(MqttLink(clock, railway, Broker(HOST, port), wires.by_broker))
    return made


def _listening(app: FastAPI, asked: Address | None) -> Listening:
    if asked is not None:
        return listen(app, *asked)
    try:
        return listen(app, *LISTEN)
    except OSError:  # the usual port is taken, perhaps by a session with real boards
        return listen(app, LISTEN[0], 0)


def _tell(service: Service, words: str) -> None:
    def answered(future: Future[Answer]) -> None:
        if not future.result().accepted:
            _say(f'"{words}" was not taken: {future.result().text}')

    service.tell(words, "crew").add_done_callback(answered)


def _in_background(live: Live) -> threading.Thread:
    def work() -> None:
        try:
            live.run()
        except (OSError, ScriptError) as error:
            complain("demo", f"the simulated boards have stopped: {error}")

    thread = threading.Thread(target=work, name="virtual evening", daemon=True)
    thread.start()
    return thread


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)
