"""The wires of a live session: which ports and which broker, by the railway folder and the command line.

Rule: what is named on the command line goes before railway.toml.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

from bridge.cli.addresses import BROKER_PORT, Address, address
from bridge.folder import FolderRead
from bridge.links.link import Clock, Link
from bridge.links.mqtt import Broker, MqttLink
from bridge.links.serial import SerialLink

PASSWORD_FILE = "broker-password"


@dataclass(frozen=True, slots=True)
class Wishes:
    """What was said on the command line about wires. `password_folder` holds the file with the broker's password."""

    password_folder: Path
    broker: Address | None = None
    ports: tuple[str, ...] = ()
    no_serial: bool = False

    @staticmethod
    def add_arguments(parser: argparse.ArgumentParser) -> None:
        """What may be said about wires, for every command that takes it."""
        parser.add_argument(
            "--broker",
            metavar="HOST:PORT",
            type=address("127.0.0.1", BROKER_PORT),
            help="the MQTT broker, before railway.toml's",
        )
        parser.add_argument(
            "--port", metavar="PATH", action="append", default=[], help="a serial port; may be given several times"
        )
        parser.add_argument("--no-serial", action="store_true", help="leave the serial ports of this machine alone")

    @classmethod
    def of(cls, arguments: argparse.Namespace) -> Wishes:
        """The wishes of a command line."""
        return cls(arguments.folder, arguments.broker, tuple(arguments.port), arguments.no_serial)


def links(read: FolderRead, clock: Clock, wishes: Wishes) -> list[Link]:
    """The wires of a railway: serial ports where a board has one or a port was named, a broker where one is wanted."""
    assert read.railway is not None
    plant = read.railway.plant
    made: list[Link] = []
    by_serial = [board for board in plant.boards.values() if board.link == "serial"]
    if wishes.no_serial and wishes.ports:
        made.append(SerialLink(clock, wishes.ports, list_ports=list))
    elif wishes.ports or (by_serial and not wishes.no_serial):
        made.append(SerialLink(clock, [*wishes.ports, *(board.port for board in by_serial if board.port is not None)]))
    by_mqtt = [board.id for board in plant.boards.values() if board.link == "mqtt"]
    if by_mqtt or read.broker is not None or wishes.broker is not None:
        made.append(MqttLink(clock, plant.id, broker(read, wishes), by_mqtt))
    return made


def broker(read: FolderRead, wishes: Wishes) -> Broker:
    """The broker that is meant: the command line's before railway.toml's, else one on this machine."""
    asked = read.broker
    host, port = wishes.broker or ((asked.host, asked.port) if asked is not None else ("127.0.0.1", BROKER_PORT))
    if asked is None:
        return Broker(host, port)
    password = None
    if asked.user is not None:
        path = wishes.password_folder / PASSWORD_FILE
        password = path.read_text(encoding="utf-8").strip() if path.is_file() else None
    return Broker(host, port, asked.tls, user=asked.user, password=password)
