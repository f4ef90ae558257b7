"""What is left to do once the broker's files are written, in words.

Rule: commands are printed so that they can be copied, and what needs root is said.
"""

from __future__ import annotations

import shlex
from pathlib import Path

from bridge.cli.addresses import BROKER_PORT, Address
from bridge.cli.broker_files import BOARD_PASSWORD, BY_HAND, SYSTEM, Written
from bridge.folder import Broker
from bridge.links.broker_settings import BOARDS_USER, LAN_WARNING

EVERYWHERE = ("0.0.0.0", "::")
HERE = ("127.0.0.1", "localhost")


def next_steps(written: Written, folder: Path, said: Broker | None, user: str, has_boards: bool) -> str:
    """All that is left to do."""
    parts = [_for_boards(written), _reach(written.listens, folder, has_boards)]
    steps = [_start(written), f"See that it keeps what it should:\n  numbertaker doctor {shlex.quote(str(folder))}"]
    table = _table(written.listens, user)
    if not _is_said(said, written.listens, user):
        steps.insert(0, f"Put this into {folder / 'railway.toml'}{' in place of its [broker]' if said else ''}:\n{table}")
    return "\n\n".join([*parts, *(f"{n}. {step}" for n, step in enumerate(steps, 1))])


def _for_boards(written: Written) -> str:
    kept_in = written.out / BOARD_PASSWORD
    if written.board_password is None:
        return f"Boards log in as before: user {BOARDS_USER}, its password stands in {kept_in}"
    return (
        f"For the firmware of your boards, shown this once and kept in {kept_in}\n"
        f"  user {BOARDS_USER}\n  password {written.board_password}"
    )


def _reach(listens: Address, folder: Path, has_boards: bool) -> str:
    host, port = listens
    if host not in (*HERE, "::1"):
        where = "in every network that this machine is in" if host in EVERYWHERE else f"at {host}"
        return f"The broker listens {where}, on port {port}. {LAN_WARNING}"
    boards = "The boards on MQTT in railway.toml" if has_boards else "Boards on Wi-Fi"
    return (
        f"The broker listens to this machine alone ({host}, port {port}). {boards} reach it only with\n"
        f"  numbertaker broker {shlex.quote(str(folder))} --listen 0.0.0.0\n"
        f"which opens it to your own network. {LAN_WARNING}"
    )


def _start(written: Written) -> str:
    copied = f"{shlex.quote(str(written.out))}/numbertaker.*"
    return (
        "Start the broker by hand:\n"
        f"  mosquitto -c {shlex.quote(str(written.out / BY_HAND))}\n"
        "or make this the settings of the system's broker; that needs root, and others who use it then need a user too:\n"
        f"  sudo install -o mosquitto -g mosquitto -m 600 {copied} {SYSTEM}/\n"
        "  sudo systemctl restart mosquitto"
    )


def _table(listens: Address, user: str) -> str:
    host, port = listens
    lines = ["[broker]", f'host = "{HERE[0] if host in EVERYWHERE else host}"', f'user = "{user}"']
    if port != BROKER_PORT:
        lines.insert(2, f"port = {port}")
    return "\n".join(f"  {line}" for line in lines)


def _is_said(said: Broker | None, listens: Address, user: str) -> bool:
    """Whether railway.toml leads to this broker. Where it listens everywhere any of its names may be meant."""
    if said is None or said.tls or (said.port, said.user) != (listens[1], user):
        return False
    host = listens[0]
    return host in EVERYWHERE or said.host == host or (said.host in HERE and host in HERE)
