"""What the journal is tested with: records of every kind, and a store in a folder of its own."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import pytest

from bridge.journal import Journal, Moment, Opening, Page
from bridge.wire.lines import Alive, Hello, Report, State
from bridge.wire.records import (
    BoardDown,
    BoardUp,
    Closed,
    HostStarted,
    HostStopped,
    Opened,
    Reading,
    Received,
    Record,
    Rejected,
    Said,
)

EVERY_KIND: tuple[Record, ...] = (
    HostStarted(0.0),
    Opened(0.1, "serial-ttyUSB0"),
    Received(0.2, "serial-ttyUSB0", Hello("alder", 17, 1204, 10, (("fw", "1.0"), ("reset", "power")))),
    Received(0.25, "serial-ttyUSB0", State("alder", 17, 1, 1260, 10, "tag=04A1003B68")),
    Rejected(0.3, "serial-ttyUSB0", "bad-sum", b"\x00\xffreport ald*00"),
    Rejected(0.3, "serial-ttyUSB0", "too-long", b""),
    BoardUp(0.4, "mqtt", "birch"),
    Reading(0.5, "mqtt", "shed", 4, "on"),
    Said(1.0, None, "begin 19:00"),
    Said(1.000001, "käthe", "explain i3 „zu früh“ – *sorry*"),
    Received(21.305118, "serial-ttyUSB0", Report("alder", 17, 2, 22087, 10, "off")),
    Received(22.0, "serial-ttyUSB0", Alive("alder", 17, 2, 23000)),
    BoardDown(23.0, "mqtt", "birch"),
    Closed(24.0, "serial-ttyUSB0"),
    HostStopped(25.0),
)
FOLDER = {"railway.toml": b'[railway]\nid = "example"\n\xff', "stock.csv": "vehicle\nwagon ü\n".encode()}
NOW = Moment(25.0, 1_790_000_000.5)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "evenings.store"


@pytest.fixture
def journal(path: Path) -> Iterator[Journal]:
    journal = Journal(path, "example")
    yield journal
    journal.close()


@pytest.fixture
def first_page() -> Callable[[Sequence[Record]], Page]:
    return lambda records=EVERY_KIND: Page(1, 1, records, opens=Opening(FOLDER, after_end=False))
