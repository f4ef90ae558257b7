"""`numbertaker broker`: settings, users and passwords for the broker Mosquitto.

Rule: nothing is overwritten unsaid. Passwords that are there stay; a file that says all that is needed stays as it is; one
that does not is put aside. railway.toml is never touched: what belongs into it is printed.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from bridge.cli.addresses import BROKER_PORT, Address, address
from bridge.cli.broker_files import Written, write_all
from bridge.cli.broker_texts import next_steps
from bridge.cli.folders import taken
from bridge.cli.printing import complain
from bridge.links.broker_settings import BOARDS_USER

HELP = "settings for the MQTT broker Mosquitto, with users and passwords"
EPILOG = """example:
  numbertaker broker my-railway
  numbertaker broker my-railway --listen 0.0.0.0

Written into FOLDER/broker: settings with which Mosquitto keeps what numbertaker needs kept, a password file and an access
list; into FOLDER/broker-password the password with which numbertaker logs in. Run again it keeps passwords, and files that
say all that is needed. It prints what is left to do. Boards on Wi-Fi need --listen 0.0.0.0; without it only this machine
reaches the broker. Never let your router forward its port.
Exit status: 1 where the folder has faults or nothing can be written, 2 on wrong usage."""
USER = "numbertaker"
LISTEN_HOST = "127.0.0.1"


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "broker", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder in which railway.toml stands")
    parser.add_argument("--out", metavar="FOLDER", type=Path, help="write there; else into FOLDER/broker")
    parser.add_argument(
        "--listen",
        metavar="HOST:PORT",
        type=address(LISTEN_HOST, 0),
        help=f"where the broker is to be reached: {LISTEN_HOST}:{BROKER_PORT} unless said, which is this machine alone; "
        "0.0.0.0 is every network of this machine, so that boards on Wi-Fi reach it",
    )
    parser.add_argument("--new-passwords", action="store_true", help="make new passwords, also where there are some")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write the files and print what is left to do; 1 where that cannot be."""
    folder: Path = arguments.folder
    read = taken(folder)
    if read is None:
        return 1
    assert read.railway is not None
    user = read.broker.user if read.broker is not None and read.broker.user else USER
    wrong = _why_no_user(user)
    if wrong is not None:
        complain("broker", wrong)
        return 1
    out: Path = (arguments.out or folder / "broker").absolute()
    usual_port = read.broker.port if read.broker is not None and not read.broker.tls else BROKER_PORT
    try:
        written = write_all(
            folder,
            out,
            railway=read.railway.plant.id,
            user=user,
            wish=_wish(arguments.listen, usual_port),
            usual=(LISTEN_HOST, usual_port),
            is_new=arguments.new_passwords,
        )
    except (OSError, UnicodeError) as error:
        complain("broker", f"{error}. Name another folder with --out, or make that file yours to read and write.")
        return 1
    _tell(written)
    has_boards = any(board.link == "mqtt" for board in read.railway.plant.boards.values())
    print(next_steps(written, folder, read.broker, user, has_boards), flush=True)
    return 0


def _wish(asked: Address | None, usual_port: int) -> Address | None:
    return None if asked is None else (asked[0], asked[1] or usual_port)


def _why_no_user(user: str) -> str | None:
    if user == BOARDS_USER:
        return f'The user "{user}" of [broker] in railway.toml is the one that boards log in with. Give it another name.'
    if ":" in user or not user.isprintable() or user != user.strip():
        return f'"{user}" in [broker] of railway.toml is no user name for Mosquitto: no colon, and no blank at its ends.'
    return None


def _tell(written: Written) -> None:
    for path, what in written.files:
        print(f"{path}: {what}")
    print()
