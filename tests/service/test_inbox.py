"""What has come is gathered at once where it is little, in bounded batches where it is much."""

from __future__ import annotations

import threading
import time
from concurrent.futures import Future

from bridge.links.link import Arrival
from bridge.service.deliveries import Deliveries
from bridge.service.inbox import LONGEST_GATHERING_S, MOST_RECORDS, Inbox, Telling
from bridge.service.sheets import sheets
from bridge.wire.records import Said

from .conftest import SIMPLE, report


def test_a_lone_report_waits_for_no_other() -> None:
    inbox = Inbox()
    arrival = Arrival((report(1),))
    inbox.put(arrival)
    began = time.monotonic()
    assert inbox.gather(5.0) == [arrival]
    assert time.monotonic() - began < LONGEST_GATHERING_S


def test_a_flood_is_taken_in_batches() -> None:
    inbox = Inbox(10_000)
    for seq in range(1, 1201):
        inbox.put(Arrival((report(seq),)))
    sizes = []
    while items := inbox.gather(0):
        sizes.append(len(items))
    assert sum(sizes) == 1200
    assert max(sizes) <= MOST_RECORDS


def test_gathering_takes_no_longer_than_agreed(monkeypatch) -> None:
    inbox = Inbox(10_000)
    for seq in range(1, 401):
        inbox.put(Arrival((report(seq),)))
    ticks = iter(n * 0.005 for n in range(1000))  # each look at the clock finds 5 ms gone
    monkeypatch.setattr("bridge.service.inbox.time.monotonic", lambda: next(ticks))
    assert 1 < len(inbox.gather(0)) <= 1 + LONGEST_GATHERING_S / 0.005


def test_a_full_inbox_holds_links_back_and_refuses_operators() -> None:
    inbox = Inbox(1)
    inbox.put(Arrival((report(1),)))
    held = threading.Thread(target=inbox.put, args=(Arrival((report(2),)),), daemon=True)
    held.start()
    held.join(0.05)
    assert held.is_alive()
    assert not inbox.offer(Telling(Said(0.0, None, "begin 19:00"), Future()))
    assert [item.records[0].line.seq for item in inbox.gather(1.0)] == [1]
    held.join(5)
    assert not held.is_alive()
    assert [item.records[0].line.seq for item in inbox.gather(1.0)] == [2]


def test_a_closed_inbox_lets_a_waiting_link_go() -> None:
    inbox = Inbox(1)
    inbox.put(Arrival((report(1),)))
    held = threading.Thread(target=inbox.put, args=(Arrival((report(2),)),), daemon=True)
    held.start()
    inbox.close()
    held.join(5)
    assert not held.is_alive()
    assert len(inbox.gather(0)) == 1


def test_an_end_is_the_last_of_its_sheet() -> None:
    telling = Telling(Said(2.0, "ann", "End"), Future())
    items = [Arrival((report(1), Said(1.0, None, "end"), report(2))), telling, Arrival((report(3),))]
    laid_out = list(sheets(items, lambda words: None, print, Deliveries((), tuple)))
    assert [[getattr(entry.record, "words", "report") for entry in sheet] for sheet in laid_out] == [
        ["report", "end"],
        ["report", "End"],
        ["report"],
    ]
    assert laid_out[1][1].telling is telling


def test_what_is_no_word_is_told_and_left_out() -> None:
    log: list[str] = []
    items = [Arrival((Said(1.0, None, "abracadabra"), Said(1.0, None, "begin 19:00")))]
    laid_out = list(sheets(items, SIMPLE.misword, log.append, Deliveries((), tuple)))
    assert [entry.record for sheet in laid_out for entry in sheet] == [Said(1.0, None, "begin 19:00")]
    assert "abracadabra" in log[0]
