"""A service that is killed: reports come in as numbers on standard input, acknowledgements go out on standard output.

    python killed.py STORE POINT AT

It kills itself, as `kill -9` does, at report number AT: POINT says where (in-batch: written and not committed; committed:
before the fold; folded: before the acknowledgement; never).
"""

from __future__ import annotations

import importlib.util
import os
import signal
import sys
import threading
from pathlib import Path

from bridge.journal import writing
from bridge.links.link import Arrival, Inbox
from bridge.service import desk
from bridge.service.folding import Evening
from bridge.service.loop import Service
from bridge.service.resuming import take_up
from bridge.wire.records import Received, Record

HERE = Path(__file__).parent
spec = importlib.util.spec_from_file_location("simple", HERE / "conftest.py")
assert spec is not None
assert spec.loader is not None
simple = importlib.util.module_from_spec(spec)
sys.modules["simple"] = simple
spec.loader.exec_module(simple)


def die() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def is_it(record: Record, at: int) -> bool:
    return isinstance(record, Received) and getattr(record.line, "seq", None) == at


def arm(point: str, at: int) -> None:
    write, take, fold = writing.Journal._write, desk.Desk.take, Evening.take

    def dying_write(journal, page, now) -> None:
        write(journal, page, now)
        if any(is_it(record, at) for record in page.records):
            die()

    def dying_fold(evening, record):
        if is_it(record, at):
            die()
        return fold(evening, record)

    def dying_take(at_desk, records, *packets):
        taken = take(at_desk, records, *packets)
        if any(is_it(record, at) for record in records):
            die()
        return taken

    if point == "in-batch":
        writing.Journal._write = dying_write
    elif point == "committed":
        Evening.take = dying_fold
    elif point == "folded":
        desk.Desk.take = dying_take


class PipeLink(simple.HandLink):
    def start(self, inbox: Inbox) -> None:
        threading.Thread(target=self._read, args=(inbox,), daemon=True).start()

    def _read(self, inbox: Inbox) -> None:
        for text in sys.stdin:
            seq = int(text)
            if seq == 0:
                service.stop()
                return
            inbox(Arrival((simple.report(seq, "off", service._clock()),), lambda seq=seq: print(seq, flush=True)))


if __name__ == "__main__":
    store, point, at = sys.argv[1:]
    folder = simple.load(simple.RAILWAY)
    resumed = take_up(Path(store), folder, simple.SIMPLE, folder_again=lambda: folder)
    service = Service(resumed, [PipeLink()], simple.SIMPLE, log=lambda text: print(text, file=sys.stderr))
    arm(point, int(at))
    service.run()
