"""Somebody on the broker who notes when the bridge says of a detector what its board has reported.

Rule: what is measured is the way of a report through all of the bridge, there and back over the broker, by one clock.
"""

from __future__ import annotations

import json
import threading
import time
from collections import defaultdict
from collections.abc import Sequence
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from bridge.cli.wires import PASSWORD_FILE

from .three_stations import HOST, RAILWAY
from .wide_layout import WideLayout

LONGEST_S = 1.0
"""An input goes on every 2 s: what is said later than this may be of the next time."""


class Hearer:
    """Hears every `says/observed` from now on."""

    def __init__(self, layout: WideLayout) -> None:
        self._heard: dict[str, list[float]] = defaultdict(list)
        self._client = Client(CallbackAPIVersion.VERSION2)
        self._client.username_pw_set("numbertaker", (layout.folder / PASSWORD_FILE).read_text(encoding="utf-8").strip())
        self._client.on_message = self._hear
        there = threading.Event()
        self._client.on_subscribe = lambda *_: there.set()
        self._client.connect(HOST, layout.port)
        self._client.loop_start()
        self._client.subscribe(f"numbertaker/{RAILWAY}/says/observed", qos=1)
        if not there.wait(10):
            raise OSError("nothing can be heard on the broker")

    def stop(self) -> None:
        """Leave the broker."""
        self._client.disconnect()
        self._client.loop_stop()

    def delays_ms(self, sent: Sequence[tuple[str, int, str, float]], since: float) -> list[float]:
        """From each report that an input went on until it was said; `since`: unix seconds of the first that counts."""
        found = []
        for board, number, value, t in list(sent):
            if value != "on" or t < since:
                continue
            after = [at - t for at in list(self._heard[f"{board}-road{number}"]) if t <= at <= t + LONGEST_S]
            found += [min(after) * 1e3] if after else []
        return found

    def _hear(self, _client: Client, _data: Any, message: Any) -> None:
        row = json.loads(message.payload)
        if row["state"] == "occupied":
            self._heard[row["detector"]].append(time.time())
