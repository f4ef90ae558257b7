"""The host's time of day.

Rule: it only dates what was journalled, so what is wrong with it harms no register; it is said all the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from bridge.journal import Reader, StoreError
from bridge.service.examining.finding import Finding, advice, fault, good

OLDEST = datetime(2025, 1, 1, tzinfo=UTC).timestamp()
"""No clock that has been set shows an earlier time: this program is younger."""

SET_BACK_S = 2.0
CLOCKS = Path("/sys/class/rtc")
SYNCHRONISED = Path("/run/systemd/timesync/synchronized")
SET_IT = "Let the network set it (on Linux: `timedatectl`), or set it by hand, before the session begins."


def clock_findings(
    wall: Callable[[], float], store: Path | None, clocks: Path = CLOCKS, synchronised: Path = SYNCHRONISED
) -> Iterator[Finding]:
    """What is wrong with the time of day (`wall`, unix seconds), held against what a store has seen."""
    now = wall()
    if now < OLDEST:
        yield fault(f"The time of day is {_said(now)}, which cannot be.", SET_IT)
    elif (last := _last(store)) is not None and now < last - SET_BACK_S:
        yield fault(f"The time of day is {_said(now)}; the store has seen {_said(last)}.", SET_IT)
    else:
        yield good(f"The time of day is {_said(now)}.")
    if clocks.parent.is_dir() and not (clocks.is_dir() and any(clocks.iterdir())) and not synchronised.exists():
        yield advice(
            "This machine has no clock that runs on while it is without power, and the network has not set its time of day.",
            "Papers may be dated wrongly until it does; nothing else depends on it.",
        )


def _last(store: Path | None) -> float | None:
    if store is None or not store.exists():
        return None
    try:
        with Reader.open(store) as reader:
            moment = reader.last_moment
    except StoreError:
        return None
    return None if moment is None else moment.wall


def _said(unix_s: float) -> str:
    return datetime.fromtimestamp(unix_s, UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
