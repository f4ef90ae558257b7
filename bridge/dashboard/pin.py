"""Acting from another device needs a PIN; looking never does, and this machine itself is never asked.

Rule: whatever is no mere reading is refused without it. Who guesses is slowed down, address by address, and told how long.
"""

from __future__ import annotations

import hmac
import ipaddress
import math
import time
from collections import OrderedDict, deque
from collections.abc import Callable
from dataclasses import dataclass, field

from starlette.datastructures import Headers
from starlette.responses import JSONResponse
from starlette.types import ASGIApp, Receive, Scope, Send

from bridge.dashboard.gate import refused

HEADER = "numbertaker-pin"
LOOKING = frozenset({"GET", "HEAD", "OPTIONS"})
MOST_WRONG = 5
WITHIN_S = 60.0
MOST_ADDRESSES = 1000


@dataclass(frozen=True, slots=True)
class Pin:
    """The digits, and a sentence that says where they stand for whoever may know them."""

    code: str
    where: str


@dataclass
class Guesses:
    """Wrong PINs by address, those of the last minute; `now` counts seconds."""

    now: Callable[[], float] = time.monotonic
    _wrong: OrderedDict[str, deque[float]] = field(default_factory=OrderedDict)

    def wait_s(self, address: str) -> float:
        """For how long nobody at this address may try again; 0 where they may."""
        times = self._wrong.get(address)
        while times and times[0] <= self.now() - WITHIN_S:
            times.popleft()
        return 0.0 if times is None or len(times) < MOST_WRONG else times[0] + WITHIN_S - self.now()

    def note(self, address: str) -> None:
        """Somebody there was wrong. Only so many addresses are remembered, the latest."""
        self._wrong.setdefault(address, deque()).append(self.now())
        self._wrong.move_to_end(address)
        if len(self._wrong) > MOST_ADDRESSES:
            self._wrong.popitem(last=False)


class PinGate:
    """ASGI middleware; `pin` None: nobody is asked."""

    def __init__(self, app: ASGIApp, pin: Pin | None = None, guesses: Guesses | None = None) -> None:
        self._app = app
        self._pin = pin
        self._guesses = guesses or Guesses()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request in, or answer it here."""
        refusal = self._refusal(scope) if scope["type"] == "http" else None
        await (self._app if refusal is None else refusal)(scope, receive, send)

    def _refusal(self, scope: Scope) -> JSONResponse | None:
        if self._pin is None or scope["method"] in LOOKING or is_this_machine(_client(scope)):
            return None
        address = _neighbourhood(_client(scope))
        wait_s = self._guesses.wait_s(address)
        if wait_s > 0:
            seconds = math.ceil(wait_s)
            text = f"The PIN was wrong {MOST_WRONG} times. Wait {seconds} s, then try again."
            return JSONResponse(dict(refused(text)), status_code=429, headers={"retry-after": str(seconds)})
        given = Headers(scope=scope).get(HEADER, "")
        if hmac.compare_digest(given.encode(), self._pin.code.encode()):
            return None
        if given:
            self._guesses.note(address)
        said = "That is not the PIN." if given else "To act from another device the PIN is needed."
        challenge = {"www-authenticate": 'PIN realm="Numbertaker"'}
        return JSONResponse(dict(refused(f"{said} {self._pin.where}")), status_code=401, headers=challenge)


def is_this_machine(host: str) -> bool:
    """Whether an address, or the name localhost, never leaves this machine."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return host == "localhost"
    return (getattr(address, "ipv4_mapped", None) or address).is_loopback


def _client(scope: Scope) -> str:
    client = scope.get("client")
    return "" if client is None else str(client[0])


def _neighbourhood(host: str) -> str:
    """Whom an address counts with: in IPv6 one device may take any of its network's (RFC 4291: the first 64 bits)."""
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return host
    mapped = getattr(address, "ipv4_mapped", None)
    if mapped is not None:
        return str(mapped)
    return str(address) if address.version == 4 else str(ipaddress.ip_network((int(address), 64), strict=False))
