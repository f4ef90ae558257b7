"""A folder that `run` refuses, followed in the page: what `check` says of it, or how to make one where there is none.

Rule: it begins only where somebody can follow it, and ends as soon as nothing is refused: then the session is served at the
same address.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path
from queue import SimpleQueue

from bridge.cli.addresses import Address, pages
from bridge.cli.pins import pin_for, pin_line
from bridge.cli.signals import signals_as_usual, stop_on_signals
from bridge.dashboard import Pin, create_founding, listen
from bridge.folder import FolderRead
from bridge.service.founding import Founding


@dataclass(frozen=True, slots=True)
class Guided:
    """A folder that has become good, where the page that led to it was served, and its PIN."""

    read: FolderRead
    listen: Address
    pin: Pin | None


def is_followed(arguments: argparse.Namespace) -> bool:
    """Whether somebody is there to open the page: as `--guide` says, else where a terminal is."""
    if arguments.guide is not None:
        return bool(arguments.guide)
    return sys.stdin.isatty() and sys.stdout.isatty()


def guided(arguments: argparse.Namespace, read: FolderRead) -> Guided | None:
    """Serve the guide until the folder is good, or until a signal: then None. Raises OSError, PinError."""
    folder: Path = arguments.folder
    store_folder = folder if arguments.store is None else arguments.store.parent
    pin = pin_for(arguments.listen[0], arguments.pin, store_folder)
    come: SimpleQueue[FolderRead | None] = SimpleQueue()
    listening = listen(create_founding(Founding(folder, read, on_good=come.put), pin=pin), *arguments.listen)
    try:
        stop_on_signals(lambda: come.put(None), listening.leave)
        addresses = pages(listening.host, listening.port)
        print("No session yet. The page shows what to do next, and goes on into the session by itself.")
        print(f"The page: {addresses[0]}" + "".join(f"  (on this machine: {other})" for other in addresses[1:]))
        print(f"{pin_line(pin)}Ctrl-C ends it.", flush=True)
        good = come.get()
    finally:
        listening.stop()
        signals_as_usual()
    return None if good is None else Guided(good, (arguments.listen[0], listening.port), pin)
