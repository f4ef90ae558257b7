"""A service on a broker that dies, as `kill -9` has it, between the commit of a message and its acknowledgement.

    python dying_service.py STORE PORT DIES_AT

It dies instead of acknowledging its message number DIES_AT, counted from 1 in each start (0: never), and stops well at the
end of its standard input. It prints `open` once the broker is reached.
"""

from __future__ import annotations

import os
import signal
import sys
import threading
from pathlib import Path

from bridge.folder import load
from bridge.links.link import Arrival, Inbox
from bridge.links.mqtt import Broker, MqttLink
from bridge.service.core import CORE
from bridge.service.loop import Service
from bridge.service.resuming import take_up
from bridge.wire.records import Opened

RAILWAY = Path(__file__).parent.parent / "recordings" / "railway"


class DyingLink(MqttLink):
    dies_at = 0
    acknowledged = 0

    def start(self, inbox: Inbox) -> None:
        def take(arrival: Arrival) -> None:
            inbox(arrival)
            if any(isinstance(record, Opened) for record in arrival.records):
                print("open", flush=True)

        super().start(take)

    def _acknowledge(self, connection: int, mid: int, qos: int) -> None:
        self.acknowledged += 1
        if self.acknowledged == self.dies_at:
            os.kill(os.getpid(), signal.SIGKILL)
        super()._acknowledge(connection, mid, qos)


def serve(store: Path, port: int, dies_at: int) -> None:
    folder = load(RAILWAY)
    resumed = take_up(store, folder, CORE, folder_again=lambda: folder)
    link = DyingLink(resumed.clock, "oxlip", Broker("127.0.0.1", port))
    link.dies_at = dies_at
    service = Service(resumed, [link], CORE, log=lambda text: print(text, file=sys.stderr))

    def wait_for_the_end() -> None:
        sys.stdin.read()
        service.stop()

    threading.Thread(target=wait_for_the_end, daemon=True).start()
    service.run()


if __name__ == "__main__":
    serve(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
