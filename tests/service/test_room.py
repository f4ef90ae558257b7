"""Little room is said before there is none, with what is left and for how long, and not again and again."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

import pytest

from bridge.service.room import Room, usage_of

CARD = 29_000_000_000


class Disk:
    def __init__(self, total: int, free: int) -> None:
        self.total, self.free, self.looks = total, free, 0

    def usage(self, place: Path) -> tuple[int, int]:
        self.looks += 1
        if self.total == 0:
            raise OSError("gone")
        return self.total, self.free


@pytest.mark.parametrize(
    ("total", "free", "is_little"),
    [
        (CARD, 501_000_000, False),
        (CARD, 499_000_000, True),
        (4_000_000_000, 201_000_000, False),  # 5 % of it is less than 500 MB
        (4_000_000_000, 199_000_000, True),
    ],
)
def test_little_is_500_mb_or_a_twentieth_whichever_is_less(store: Path, total: int, free: int, is_little: bool) -> None:
    notices = Room(store, 0.0, Disk(total, free).usage).notices(0.0)
    assert bool(notices) == is_little
    if is_little:
        assert notices[0].startswith(f"Little room is left for the journal: {free // 1_000_000} MB. Make room on the disk")


def test_for_how_long_it_lasts_is_measured_in_this_run(store: Path) -> None:
    store.write_bytes(b"x" * 1_000)
    disk = Disk(CARD, 400_000_000)
    room = Room(store, 1_000.0, disk.usage)
    assert "hours" not in room.notices(1_000.0)[0]
    store.write_bytes(b"x" * 1_001_000)
    disk.free = 350_000_000
    assert ": 350 MB, about 194 hours as it grows now." in room.notices(1_000.0 + 2_000.0)[0]  # 350 MB at 0.5 kB/s
    disk.free = 1_000_000
    assert ": 1 MB, less than an hour as it grows now." in room.notices(1_000.0 + 3_000.0)[0]


def test_it_is_looked_at_every_ten_seconds_and_said_anew_where_it_has_changed_by_much(store: Path) -> None:
    disk = Disk(CARD, 400_000_000)
    room = Room(store, 0.0, disk.usage)
    first = room.notices(0.0)
    disk.free = 370_000_000
    assert room.notices(9.9) == first
    assert disk.looks == 1
    assert room.notices(10.0) == first  # a tenth less is nothing new
    disk.free = 350_000_000
    assert "350 MB" in room.notices(20.0)[0]
    disk.free = 505_000_000
    assert room.notices(30.0) != ()
    disk.free = 530_000_000
    assert room.notices(40.0) == ()
    disk.total = 0
    assert room.notices(50.0) == ()


def test_the_disk_is_asked_in_truth(store: Path) -> None:
    total, free = usage_of(store.parent)
    assert 0 <= free <= total


def test_it_is_a_trouble_on_the_page(go_live: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bridge.service.room.shutil.disk_usage", lambda place: (100_000_000, 99_000_000, 1_000_000))
    live = go_live()
    told = threading.Event()
    live.service.subscribe(lambda shown: told.set() if shown.snapshot["troubles"] else None)
    assert told.wait(10) or live.service.latest().snapshot["troubles"]
    assert live.service.latest().snapshot["troubles"][0].startswith("Little room is left for the journal: 1 MB.")
