"""The broker that is meant, and a client to speak to it with.

Rule: whoever speaks to a broker, the live session or one that examines it, is the same kind of client: MQTT 5, acknowledging
by hand, so that what is found to be kept for one is kept for the other.
"""

from __future__ import annotations

import socket
from dataclasses import dataclass, field
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

MOST_UNACKNOWLEDGED = 60_000


@dataclass(frozen=True, slots=True)
class Broker:
    """Where the broker is. With `tls` its certificate is checked against `ca_file`, or what the system trusts."""

    host: str
    port: int = 1883
    tls: bool = False
    ca_file: str | None = None
    user: str | None = None
    password: str | None = field(default=None, repr=False)

    @property
    def where(self) -> str:
        """Host and port, as they are said."""
        return f"{self.host}:{self.port}"


def new_client(broker: Broker, client_id: str) -> Client:
    """A client that is not connected yet. Raises OSError or UnicodeError for settings that cannot work."""
    broker.host.encode("idna")
    client = Client(CallbackAPIVersion.VERSION2, client_id=client_id, protocol=MQTTProtocolVersion.MQTTv5, manual_ack=True)
    client.on_socket_open = _at_once
    if broker.user is not None:
        client.username_pw_set(broker.user, broker.password)
    if broker.tls:
        client.tls_set(ca_certs=broker.ca_file)
    return client


def _at_once(_client: Client, _data: Any, opened: Any) -> None:
    """Have small messages sent as they come: a confirmation that waits for the next (RFC 896) holds back what boards say."""
    if isinstance(opened, socket.socket):
        opened.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)


def wishes(session_s: int) -> Properties:
    """What a client asks for on connecting: its session kept for so long, and this much before it has acknowledged.

    60,000 reports that wait cost Mosquitto 2.0.11 26 MB and this program 44 MB (measured); the protocol allows 65,535.
    """
    asked = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
    asked.SessionExpiryInterval = session_s
    asked.ReceiveMaximum = MOST_UNACKNOWLEDGED
    return asked


def remedy(reason: str) -> str:
    """What to do about a broker's answer, or its goodbye."""
    match reason:
        case "Not authorized" | "Bad user name or password":
            return "Correct the user in railway.toml and its password in the file broker-password."
        case "Unsupported protocol version":
            return "It does not speak MQTT 5: use one that does, such as Mosquitto from version 1.6 on."
    return "It is tried again all the time."
