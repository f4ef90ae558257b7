"""`numbertaker run` in a process of its own, with fast clocks, that prints every outcome it hands on: a line of JSON each.

    python lone_bridge.py FOLDER STORE PORTS BROKER SPEED SINCE

PORTS is a folder: what is in it is what is plugged in. Both clocks run SPEED times as fast as real ones, the time of day
from the unix second SINCE on, so that a second start goes on with the seconds of the first.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Mapping
from functools import partial
from pathlib import Path
from typing import Any

from bridge.cli import main, run, wires
from bridge.links.serial import SerialLink
from bridge.links.serial_port import Patience
from bridge.service.loop import Service


def begin(folder: str, store: str, ports: Path, broker: str, speed: float, since: float) -> int:
    def say(row: Mapping[str, Any]) -> None:
        print(json.dumps(row, ensure_ascii=False), flush=True)

    usual = Patience()
    patience = Patience(usual.scan_s / speed, usual.first_retry_s / speed, usual.longest_retry_s / speed)
    run.take_up = partial(
        run.take_up,
        monotonic=lambda: time.monotonic() * speed,
        wall=lambda: since + (time.time() - since) * speed,
    )
    run.Service = lambda resumed, links, core, outlets, *more: Service(resumed, links, core, [*outlets, say], *more)
    wires.SerialLink = partial(SerialLink, list_ports=lambda: sorted(map(str, ports.iterdir())), patience=patience)
    return main(["run", folder, "--store", store, "--listen", "127.0.0.1:0", "--broker", f"127.0.0.1:{broker}"])


if __name__ == "__main__":
    sys.exit(begin(*sys.argv[1:3], Path(sys.argv[3]), sys.argv[4], *map(float, sys.argv[5:])))
