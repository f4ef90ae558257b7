"""Who may speak to the dashboard: pages it served itself, under an address it listens at.

Rule: a page from elsewhere cannot act through a visitor's browser. The Host header must be an address of this machine (or
else a foreign name could be pointed here), and an Origin header must be the same as Host. What is refused is told plainly.
"""

from __future__ import annotations

import ipaddress
import json
import socket
from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import urlsplit

from starlette.types import ASGIApp, Message, Receive, Scope, Send

SAFE_HEADERS = (
    (b"content-security-policy", b"default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
)


class Gate:
    """ASGI middleware. `hosts` are further names under which the page may be opened."""

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = ()) -> None:
        self._app = app
        own = socket.gethostname()
        self._names = {plain_name(name) for name in ("localhost", own, f"{own}.local", *hosts)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or answer it here."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope)
        if refusal is not None:
            await _refuse(send, *refusal)
            return

        async def send_safely(message: Message) -> None:
            if message["type"] == "http.response.start":
                message = {**message, "headers": [*message["headers"], *SAFE_HEADERS]}
            await send(message)

        await self._app(scope, receive, send_safely)

    def _refusal(self, scope: Scope) -> tuple[int, str] | None:
        headers = {name: value.decode("latin-1") for name, value in scope["headers"]}
        host = headers.get(b"host", "").strip().lower()
        if not self._is_ours(host, scope):
            return (
                421,
                f'This page is not kept under the address "{host[:100]}". Open it by the address Numbertaker printed.',
            )
        origin = headers.get(b"origin", "").strip().lower()
        if origin and not _same_place(origin, host):
            return 403, "Refused: another site's page asked for this. Open Numbertaker's own page and tell it there."
        return None

    def _is_ours(self, host: str, scope: Scope) -> bool:
        name = plain_name(_hostname(host))
        if not name:
            return False
        if name in self._names or _is_loopback(name):
            return True
        server = scope.get("server")
        return server is not None and name == plain_name(str(server[0]))


def plain_name(name: str) -> str:
    """A host name or address in the one way it is compared: lower case, no final dot, IPv4 in IPv6 unwrapped."""
    name = name.lower().rstrip(".")
    try:
        address = ipaddress.ip_address(name)
    except ValueError:
        return name
    mapped = getattr(address, "ipv4_mapped", None)
    return str(mapped or address)


def _is_loopback(name: str) -> bool:
    try:
        return ipaddress.ip_address(name).is_loopback
    except ValueError:
        return False


def _hostname(host: str) -> str:
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def _same_place(origin: str, host: str) -> bool:
    scheme, _, place = origin.partition("://")
    return scheme in {"http", "https"} and place == host


async def _refuse(send: Send, status: int, text: str) -> None:
    body = json.dumps(refused(text)).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode()), *SAFE_HEADERS]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


def refused(text: str) -> Mapping[str, Any]:
    """The body of every refusal: shaped as an answer, so that the page shows it like one."""
    return {"accepted": False, "text": text, "n": None}
