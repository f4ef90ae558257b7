"""Addresses on the command line, HOST:PORT, and the ones under which the page can be opened.

Rule: what is printed can be typed into a phone in the same network.
"""

from __future__ import annotations

import argparse
import socket
from collections.abc import Callable

LISTEN = ("0.0.0.0", 8610)
"""Every network of this machine, so that phones beside the layout reach the page."""

BROKER_PORT = 1883
"""The port that is registered for MQTT."""

Address = tuple[str, int]


def address(default_host: str, default_port: int) -> Callable[[str], Address]:
    """Reads HOST:PORT, HOST, or PORT alone; for argparse. An IPv6 address stands in brackets where a port follows it."""

    def read(text: str) -> Address:
        host, port = _parted(text.strip())
        if not host and not port:
            raise argparse.ArgumentTypeError("an address is HOST:PORT, such as 127.0.0.1:8610")
        if port and not (port.isascii() and port.isdigit() and int(port) <= 65_535):
            raise argparse.ArgumentTypeError(f'"{port}" in "{text}" is no port: a number up to 65535')
        return host or default_host, int(port) if port else default_port

    return read


def _parted(text: str) -> tuple[str, str]:
    if text.startswith("["):
        host, _, port = text[1:].partition("]")
        return host, port.removeprefix(":")
    if text.isdigit():
        return "", text
    if text.count(":") > 1:
        return text, ""
    host, _, port = text.partition(":")
    return host, port


def pages(host: str, port: int) -> tuple[str, ...]:
    """The addresses of a page that listens there: for a phone first, then for this machine."""
    if host not in ("0.0.0.0", "::"):
        return (_page(host, port),)
    outside = _own_address()
    return (*([_page(outside, port)] if outside else []), _page("127.0.0.1", port))


def _page(host: str, port: int) -> str:
    return f"http://[{host}]:{port}/" if ":" in host else f"http://{host}:{port}/"


def _own_address() -> str | None:
    """This machine's address in its network, None where it is in none. Nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737): only the way there is looked up
            return str(probe.getsockname()[0])
        except OSError:
            return None
