"""`numbertaker ports`: the serial ports that are plugged in, and which board speaks on each.

Rule: a port on which nobody speaks is told with what to check; one that a running session has open is left to it.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from typing import Any

from bridge.cli.printing import Printer, complain, printed
from bridge.links.serial_device import BAUD
from bridge.links.serial_survey import PortSeen, survey

HELP = "the serial ports that are plugged in, and which board speaks on each"
EPILOG = """example:
  numbertaker ports
  numbertaker ports --seconds 20 --port /dev/ttyAMA0
  numbertaker ports --json

It opens every USB serial port and listens, which restarts some boards; nothing is written to a port that is not named here
before a board has spoken there. Other ports (a console, a modem) are opened only where --port names them.
Exit status: 1 where no board speaks, a port cannot be opened, a named one stays silent or two boards have one name; 2 on
wrong usage. A port that a running numbertaker has open is no fault."""
SECONDS = 5.0
MOST_SECONDS = 3600.0


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "ports", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--seconds", metavar="N", type=seconds, default=SECONDS, help=f"listen so long; {SECONDS:.0f} unless said"
    )
    parser.add_argument(
        "--port", metavar="PATH", action="append", default=[], help="a serial port; may be given several times"
    )
    parser.add_argument("--json", action="store_true", help="one object a line, for programs")
    parser.set_defaults(run=run)


def seconds(text: str) -> float:
    """A time to listen, in seconds; for argparse."""
    try:
        given = float(text)
    except ValueError:
        given = 0.0
    if 0.0 < given <= MOST_SECONDS:
        return given
    raise argparse.ArgumentTypeError(f'"{text}" is no time to listen: seconds, up to {MOST_SECONDS:.0f}')


def run(arguments: argparse.Namespace) -> int:
    """Print what is found; 1 where something is wrong."""
    if not arguments.json:
        print(f"Listening for {arguments.seconds:g} s.", file=sys.stderr, flush=True)
    seen, troubles = survey(arguments.port, arguments.seconds)
    with printed():
        printer = Printer()
        for port in seen:
            printer.line(json.dumps(as_dict(port), ensure_ascii=False) if arguments.json else shown(port, arguments.seconds))
        if not arguments.json and not seen:
            printer.line(NO_PORT)
    if troubles:
        complain("ports", *troubles)
    heard = any(port.boards for port in seen)
    return int(bool(troubles) or not (heard or any(map(is_ours, seen))) or any(map(is_wrong, seen)))


NO_PORT = """No serial port is plugged in.
    -> If a board is: does its cable carry data (some only charge)? Try another socket, without a hub.
    -> A port that is not USB, or a pseudo-terminal, is named with --port."""


def is_ours(port: PortSeen) -> bool:
    """Whether a running session has it open."""
    return not port.opened and any(holder.startswith("numbertaker ") for holder in port.held_by)


def is_wrong(port: PortSeen) -> bool:
    """Whether it is a fault: it cannot be opened, or was named and stays silent."""
    return not is_ours(port) and port.tried and (not port.opened or (port.is_named and not port.boards))


def as_dict(port: PortSeen) -> dict[str, Any]:
    """A port for a program."""
    return {
        "port": port.device.path,
        "description": port.device.description,
        "usb": port.device.usb,
        "named": port.is_named,
        "opened": port.opened,
        "held_by": list(port.held_by),
        "boards": [
            {"board": name, "boot": board.boot, "inputs": board.inputs, "lines": board.lines}
            for name, board in port.boards.items()
        ],
        "rejected": dict(port.rejected),
        "trouble": port.trouble,
    }


def shown(port: PortSeen, listened_s: float) -> str:
    """A port for a person: what it is, who speaks there, and what to check where nobody does."""
    device = port.device
    usb = f" (USB {device.usb})" if device.usb else ""
    rows = [f"{device.path}  {device.description}{usb}".rstrip()]
    for name, board in port.boards.items():
        boot = "" if board.boot is None else f", boot {board.boot}"
        inputs = "" if board.inputs is None else f", {board.inputs} inputs"
        rows.append(f"board {name}{boot}{inputs}: {_many(board.lines, 'line')} in {listened_s:g} s")
    if port.rejected:
        rows.append(f"{_many(port.rejected.total(), 'piece')} rejected: {_reasons(port.rejected)}")
    if is_ours(port):
        rows.append(f"in use by {' and '.join(port.held_by)}, which listens there: look at its page")
    elif port.opened and port.held_by:
        rows.append(f"{' and '.join(port.held_by)} has it open as well: it may take lines away. Close it there.")
    rows += _advice(port, listened_s)
    return "\n    ".join(rows)


def _advice(port: PortSeen, listened_s: float) -> Sequence[str]:
    if not port.tried:
        return [f"not opened, as it is not USB; if a board is there: --port {port.device.path}"]
    if is_ours(port) or port.boards:
        return []
    if not port.opened:
        return [port.trouble or "could not be opened"]
    if port.rejected:
        return [
            f"open, but no board speaks there, only something else. -> If it is a board: does it send at {BAUD} baud, 8N1, "
            "with a checksum? Else it is another device, and is left alone."
        ]
    return [
        f"open, but nothing came in {listened_s:g} s. -> Is the board's program on it, and its power on? A slow start: "
        "--seconds 15."
    ]


def _reasons(rejected: Counter[str]) -> str:
    return ", ".join(f"{count} {reason}" for reason, count in rejected.most_common())


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
