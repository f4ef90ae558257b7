"""`numbertaker doctor`: what is wrong with folder, ports, broker, store and clock.

Rule: it tries things rather than trusting settings, disturbs no running session, leaves nothing behind, and always ends.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from bridge.cli.printing import printed
from bridge.cli.wires import PASSWORD_FILE, Wishes, broker
from bridge.folder import FolderRead, load, why_no_folder
from bridge.service.examining import Finding, Part, examined
from bridge.service.examining.broker import broker_findings
from bridge.service.examining.clock import clock_findings
from bridge.service.examining.folder import folder_findings
from bridge.service.examining.keeping import RESTART_S
from bridge.service.examining.ports import port_findings
from bridge.service.examining.store import store_findings

HELP = "what is wrong with ports, broker, store and clock, found by trying them"
EPILOG = """example:
  numbertaker doctor my-railway
  numbertaker doctor my-railway --restart 'sudo systemctl restart mosquitto'
  numbertaker doctor --broker 192.168.1.5

Serial ports that nobody has open are opened and closed, which resets some boards. The broker is tried on topics of its own,
beside a running session; with --restart it is also seen what it keeps through a restart, by your command. It takes some ten
seconds, and leaves nothing behind.
Exit status: 1 where something is wrong, 0 where there is only advice, 2 on wrong usage."""
LONGEST_S = 30.0
LINE = {"fault": "WRONG  ", "advice": "advice ", "good": "ok     "}


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "doctor", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", metavar="FOLDER", nargs="?", type=Path, help="the folder in which railway.toml stands")
    parser.add_argument("--store", metavar="FILE", type=Path, help="the store; else in FOLDER, RAILWAY.store")
    Wishes.add_arguments(parser)
    parser.add_argument(
        "--restart", metavar="COMMAND", help="restart the broker with this command, and see what it has kept"
    )
    parser.add_argument("--json", action="store_true", help="one object a line, for programs")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print what is found; 1 where something is wrong, 2 where FOLDER is none."""
    folder: Path | None = arguments.folder
    wrong = None if folder is None else why_no_folder(folder)
    if wrong is not None:
        print(f"numbertaker doctor: {folder} {wrong}. Name the folder in which railway.toml stands.", file=sys.stderr)
        return 2
    longest_s = LONGEST_S + (2 * RESTART_S if arguments.restart else 0.0)
    found = examined(_parts(arguments, None if folder is None else load(folder)), longest_s)
    with printed(to_person=not arguments.json):
        if arguments.json:
            for name, findings in found.items():
                for finding in findings:
                    print(json.dumps(finding.as_dict(name), ensure_ascii=False))
        else:
            print(_shown(found))
    return int(any(finding.level == "fault" for findings in found.values() for finding in findings))


def _parts(arguments: argparse.Namespace, read: FolderRead | None) -> dict[str, Part]:
    """What there is to examine. Without a folder that is what was named, the USB ports and the time of day."""
    plant = None if read is None or read.railway is None else read.railway.plant
    boards = () if plant is None else tuple(plant.boards.values())
    store: Path | None = arguments.store
    parts: dict[str, Part] = {}
    if read is not None:
        password = arguments.folder / PASSWORD_FILE
        parts["folder"] = lambda: folder_findings(arguments.folder, read, password)
        if store is None and plant is not None:
            store = arguments.folder / f"{plant.id}.store"
    if not arguments.no_serial:
        named = (*arguments.port, *(board.port for board in boards if board.port is not None))
        by_serial = [board.id for board in boards if board.link == "serial"]
        parts["ports"] = lambda: port_findings(named, by_serial)
    said = read or FolderRead(None, (), {})
    if arguments.broker or said.broker is not None or any(board.link == "mqtt" for board in boards):
        meant = broker(said, Wishes(arguments.folder or Path(), arguments.broker))
        railway = "doctor" if plant is None else plant.id
        parts["broker"] = lambda: broker_findings(meant, railway, arguments.restart)
    if store is not None:
        parts["store"] = lambda: store_findings(store, None if plant is None else plant.id)
    parts["clock"] = lambda: clock_findings(time.time, store)
    return parts


def _shown(found: Mapping[str, Sequence[Finding]]) -> str:
    blocks = ["\n".join([name.capitalize(), *(_line(finding) for finding in findings)]) for name, findings in found.items()]
    faults = sum(finding.level == "fault" for findings in found.values() for finding in findings)
    hints = sum(finding.level == "advice" for findings in found.values() for finding in findings)
    if faults:
        last = f"{faults} thing{'' if faults == 1 else 's'} to put right."
    else:
        last = "Nothing is wrong." + (f" {hints} advice." if hints else "")
    return "\n\n".join([*blocks, last])


def _line(finding: Finding) -> str:
    said = f"  {LINE[finding.level]}{finding.text}"
    return f"{said}\n         -> {finding.remedy}" if finding.remedy else said
