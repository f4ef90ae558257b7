"""What a broker delivers again is taken once; what only looks like it counts as often as it was told.

What DUP and packet identifiers mean: MQTT 5.0 (OASIS), 3.3.1.1 and 4.4; that Mosquitto keeps them: `tests/links`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.journal import Delivered, Moment, NotWrittenError, Page, Reader, line_of
from bridge.links.link import ANEW, Arrival, Delivery
from bridge.service.backlog import Backlog
from bridge.service.core import CORE
from bridge.service.deliveries import MOST_BETWEEN, SOON, Deliveries
from bridge.wire.lines import Report
from bridge.wire.records import BoardDown, Opened, Reading, Received, Record, Said

from .conftest import Live, report

STOP = Said(1.0, None, "stop")
GO_ON = Said(1.0, None, "go-on")
SHUT = Reading(1.0, "mqtt", "shed", 4, "off")


def empty() -> Deliveries:
    return Deliveries((), tuple)


def brought(packet: int, *records: Record) -> Arrival:
    return Arrival(records, delivery=Delivery(packet))


def again(packet: int, *records: Record) -> Arrival:
    return Arrival(records, delivery=Delivery(packet, is_again=True))


def taken(by: Deliveries, arrival: Arrival) -> list[Record]:
    return [record for record, _ in by.news(arrival)]


@pytest.mark.parametrize("record", [STOP, SHUT])
def test_what_was_taken_is_not_taken_again_however_often_it_comes(record: Record) -> None:
    deliveries = empty()
    assert list(deliveries.news(brought(5, record))) == [(record, 5)]
    for _ in range(3):
        assert taken(deliveries, again(5, record)) == []


@pytest.mark.parametrize("record", [STOP, SHUT])
def test_after_a_start_the_journal_knows_it(record: Record) -> None:
    line = {STOP: "operator stop", SHUT: "mqtt !read shed 4 off"}[record]
    deliveries = Deliveries([Delivered(5, line, 0)], tuple)
    assert taken(deliveries, again(5, record)) == []
    assert taken(deliveries, again(6, record)) == [record]


def test_the_same_words_told_twice_count_twice() -> None:
    deliveries = empty()
    assert taken(deliveries, brought(5, STOP)) == taken(deliveries, brought(6, STOP)) == [STOP]
    assert taken(deliveries, brought(7, STOP, STOP)) == [STOP, STOP]
    assert taken(deliveries, again(7, STOP, STOP)) == []


def test_what_may_have_come_before_and_did_not_is_news() -> None:
    deliveries = empty()
    assert list(deliveries.news(again(5, STOP))) == [(STOP, 5)]
    assert taken(deliveries, again(5, STOP)) == []


def test_without_the_mark_of_a_repeat_nothing_is_left_out() -> None:
    deliveries = empty()
    for _ in range(3):  # an identifier is free again once it is acknowledged
        assert taken(deliveries, brought(5, STOP)) == [STOP]
    assert taken(deliveries, again(5, STOP)) == []


def test_an_identifier_that_is_used_anew_is_another_message() -> None:
    deliveries = empty()
    assert taken(deliveries, brought(5, STOP)) == [STOP]
    assert taken(deliveries, brought(5, report(1))) == [report(1)]
    assert taken(deliveries, again(5, STOP)) == [STOP]


def test_other_words_under_the_same_identifier_are_news() -> None:
    deliveries = empty()
    assert taken(deliveries, brought(5, STOP)) == [STOP]
    assert taken(deliveries, again(5, GO_ON)) == [GO_ON]


def test_an_identifier_that_has_gone_round_since_says_nothing() -> None:
    before = Deliveries([Delivered(5, "operator stop", MOST_BETWEEN - 1)], tuple)
    assert taken(before, again(5, STOP)) == []
    gone_round = Deliveries([Delivered(5, "operator stop", MOST_BETWEEN - 1)], tuple)
    assert taken(gone_round, brought(9, GO_ON)) == [GO_ON]
    assert taken(gone_round, again(5, STOP)) == [STOP]


def test_a_broker_that_has_forgotten_us_counts_anew() -> None:
    deliveries, opened = Deliveries([Delivered(5, "operator stop", 3)], tuple), Opened(2.0, "mqtt")
    assert list(deliveries.news(brought(ANEW, opened))) == [(opened, ANEW)]
    assert taken(deliveries, again(5, STOP)) == [STOP]


def test_of_a_message_that_was_taken_in_part_the_rest_is_taken() -> None:
    """A kill between two sheets: what stands behind an `end` is journalled after it."""
    end = Said(1.0, None, "end")
    deliveries = Deliveries([Delivered(5, "operator stop", 1), Delivered(5, "operator end", 0)], tuple)
    assert taken(deliveries, again(5, STOP, end, STOP)) == [STOP]
    assert taken(deliveries, again(5, STOP, end, STOP)) == []


def test_board_lines_are_journalled_at_every_arrival_but_those_of_the_session_before() -> None:
    lines = [line_of(report(1))]
    deliveries = Deliveries((), lambda: lines)
    assert taken(deliveries, again(5, report(1), report(2))) == [report(2)]
    assert taken(deliveries, again(5, report(2))) == [report(2)]
    assert taken(deliveries, brought(6, report(3))) == taken(deliveries, brought(7, report(3))) == [report(3)]
    lines.append(line_of(report(2)))
    deliveries.turn_over()
    assert taken(deliveries, again(5, report(2))) == []


def test_a_line_asked_for_before_the_end_is_not_news_behind_it() -> None:
    sent = report(7)
    deliveries = Deliveries((), lambda: [line_of(sent)])
    assert taken(deliveries, brought(5, sent)) == []  # sent once more by the board: the broker does not know it
    assert taken(deliveries, Arrival((sent,))) == []  # on a cable
    for n in range(SOON):
        assert taken(deliveries, brought(6 + n, STOP)) == [STOP]
    assert taken(deliveries, brought(5, sent)) == [sent]
    deliveries.turn_over()
    assert taken(deliveries, brought(5, sent)) == []


def test_a_links_word_is_heard_as_often_as_it_is_said() -> None:
    down = BoardDown(1.0, "mqtt", "brake")
    deliveries = Deliveries((), lambda: ["mqtt !down brake"])
    assert taken(deliveries, brought(5, down)) == taken(deliveries, again(5, down)) == [down]


def bring(live: Live, arrival: Arrival) -> None:
    done = threading.Event()
    assert live.link.inbox is not None
    live.link.inbox(replace(arrival, done=done.set))
    assert done.wait(10), live.failure


def words_in(store: Path, session: int = 1) -> list[str]:
    with Reader.open(store) as reader:
        return [row.record.words for row in reader.records(session) if isinstance(row.record, Said)]


def test_a_service_started_again_acknowledges_what_it_has_and_takes_it_once(go_live: Callable[..., Live], store) -> None:
    begin, explain = Said(0.0, None, "begin 19:00"), Said(0.0, None, "explain i1 late")
    first = go_live()
    bring(first, brought(1, begin))
    bring(first, brought(2, explain))
    bring(first, again(2, explain))
    first.stop()
    second = go_live()
    bring(second, again(1, begin))
    bring(second, again(2, explain))
    bring(second, brought(3, explain))
    second.stop()
    assert words_in(store) == ["begin 19:00", "explain i1 late", "explain i1 late"]


def test_a_line_of_the_session_that_has_ended_is_not_news_in_the_next(go_live: Callable[..., Live], store) -> None:
    """Committed with the `end` behind it, not acknowledged, and delivered again after the start."""
    gone_out = [
        Received(0.0, "mqtt", Report("oxlip", 12, seq, 30_000 + seq, 5, f"tag={tag}"))
        for seq, tag in ((14, "04A1000002"), (16, "04A1000031"))
    ]
    first = go_live(CORE)
    bring(first, brought(1, Said(0.0, None, "begin 19:00")))
    bring(first, Arrival(tuple(gone_out), delivery=Delivery(2)))
    bring(first, brought(3, Said(0.0, None, "end")))
    first.stop()
    second = go_live(CORE)
    bring(second, again(2, *gone_out))
    bring(second, again(3, Said(0.0, None, "end")))
    bring(second, brought(4, Said(0.0, None, "begin 19:00")))
    second.stop()
    places = second.service.latest().snapshot["vehicles"]
    assert [places[vehicle]["place"] for vehicle in ("e2", "c1")] == ["oxlip.platform", "oxlip.platform"]
    assert words_in(store, 2) == ["begin 19:00"]
    with Reader.open(store) as reader:
        assert not [row for row in reader.records(2) if isinstance(row.record, Received)]


def test_within_one_run_too(go_live: Callable[..., Live], store) -> None:
    """The connection is lost behind the `end`, and the broker delivers anew."""
    live = go_live()
    bring(live, brought(1, Said(0.0, None, "begin 19:00"), report(1), Said(0.0, None, "end")))
    bring(live, again(1, Said(0.0, None, "begin 19:00"), report(1), Said(0.0, None, "end")))
    bring(live, brought(2, Said(0.0, None, "begin 20:00"), report(2)))
    live.stop()
    assert words_in(store, 1) == ["begin 19:00", "end"]
    assert words_in(store, 2) == ["begin 20:00"]
    with Reader.open(store) as reader:
        assert [row.record.line.seq for row in reader.records(2) if isinstance(row.record, Received)] == [2]


class FullDisk:
    """A journal that takes nothing until there is room."""

    path = Path("nowhere.store")

    def __init__(self) -> None:
        self.has_room = False
        self.pages: list[Page] = []

    def append(self, page: Page, _now: Moment) -> None:
        if not self.has_room:
            raise NotWrittenError("full")
        self.pages.append(page)


def test_what_waits_for_the_disk_is_written_with_its_identifiers() -> None:
    disk = FullDisk()
    backlog = Backlog(disk, lambda: Moment(1.0, 2.0))  # type: ignore[arg-type]
    for n in range(1, 5):
        backlog.write(Page(1, n, [STOP], deliveries=[(n, 100 + n)]))
    disk.has_room = True
    backlog.catch_up(at_once=True)
    assert len(disk.pages) < 4
    assert [row for page in disk.pages for row in page.deliveries] == [(1, 101), (2, 102), (3, 103), (4, 104)]
