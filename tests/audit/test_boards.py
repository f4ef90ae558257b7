"""Losses are told where numbers prove them, and only there."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from bridge.audit.boards import BoardHealth, health
from bridge.core.events import Journalled
from bridge.wire.lines import Alive, BoardLine, Edge, Hello, Report
from bridge.wire.records import HostStarted, Received, Record, Rejected
from bridge.wire.withheld import Screaming, Withheld, told_of_lines, told_of_rejects


def one(*lines: BoardLine, times: tuple[float, ...] = ()) -> BoardHealth:
    at = times or tuple(float(n) for n in range(len(lines)))
    records: list[Record] = [Received(t, "s", line) for t, line in zip(at, lines, strict=True)]
    (board,), _ = health(["a"], [Journalled(n, record) for n, record in enumerate(records, 1)])
    return board


def report(seq: int, boot: int = 1) -> Report:
    return Report("a", boot, seq, 0, 1, "on")


def test_a_whole_evening_is_counted(told: Any) -> None:
    (alder, birch), (serial,) = health(told.railway.plant.boards, told.account().records)
    assert (alder.lines, alder.starts, alder.missing, alder.late) == (6, 1, 1, 1)
    assert alder.silence_s == pytest.approx(159.7)
    assert (birch.unnumbered, birch.links, birch.missing) == (1, {"broker"}, 0)
    assert (serial.opened, serial.lost, dict(serial.rejected)) == (1, 1, {"bad-sum": 1})


def test_numbers_before_the_first_heard_of_the_first_start_are_no_loss() -> None:
    assert one(report(40), report(41)).missing == 0
    assert one(Alive("a", 1, 40, 0), report(41)).missing == 0
    assert one(Hello("a", 1, 0, 4), report(40)).missing == 0


def test_of_a_later_start_they_are() -> None:
    board = one(report(40), Hello("a", 2, 0, 4), report(3, boot=2))
    assert (board.starts, board.missing) == (2, 2)


def test_alive_proves_a_loss_behind_the_last_report() -> None:
    assert one(report(1), Alive("a", 1, 4, 0)).missing == 3


def test_what_comes_after_alive_has_named_it_is_late() -> None:
    board = one(report(1), Alive("a", 1, 2, 0), report(2))
    assert (board.missing, board.late) == (0, 1)


def test_a_report_sent_twice_counts_once() -> None:
    board = one(report(1), report(2), report(2))
    assert (board.missing, board.late, board.again) == (0, 0, 1)


def test_a_raw_edge_has_no_number() -> None:
    assert one(report(1), Edge("a", 1, 0, 1, "on"), report(2)).missing == 0


def test_a_pause_of_the_service_is_no_silence() -> None:
    records = [Received(1.0, "s", report(1)), HostStarted(5000.0), Received(5001.0, "s", report(2))]
    (board,), _ = health([], [Journalled(n, record) for n, record in enumerate(records, 1)])
    assert board.silence_s == 0.0


def test_a_board_never_heard_is_told() -> None:
    (board,), links = health(["a"], [])
    assert (board.lines, links) == (0, ())


@given(some.lists(some.integers(1, 30), min_size=1, max_size=40))
def test_whatever_the_order_nothing_is_counted_twice(numbers: list[int]) -> None:
    """An independent count with sets: what must exist from the first heard on, less what came."""
    board = one(*[report(seq) for seq in numbers])
    counted = {seq for seq in numbers if seq >= numbers[0]}
    assert board.missing == len(set(range(numbers[0], max(numbers) + 1)) - counted)
    repeats = sum(seq in numbers[:place] for place, seq in enumerate(numbers) if seq >= numbers[0])
    assert board.again == repeats


def withheld(*numbers: tuple[int, int]) -> Rejected:
    lines = sum(last - first + 1 for first, last in numbers)
    return told_of_lines(1.0, "s", Withheld("numbered", "a", 1, numbers, (Screaming(3, lines, 5_000),)))


def test_numbers_of_an_input_that_screamed_came() -> None:
    line = Received(0.0, "s", report(1))
    behind = Received(2.0, "s", report(1_005))
    records = [line, withheld((2, 500)), withheld((501, 1_000), (1_002, 1_002)), behind, withheld((3, 4))]
    (board,), _ = health(["a"], [Journalled(n, record) for n, record in enumerate(records, 1)])
    assert board.missing == 3  # 1001, 1003 and 1004
    assert board.lines == 2 + 999 + 1 + 2
    assert dict(board.screamed) == {3: 999 + 1 + 2}


def test_rejects_told_of_together_are_counted_one_by_one() -> None:
    records = [Rejected(0.0, "s", "bad-sum", b"x"), told_of_rejects(1.0, "s", {"bad-sum": 811, "too-long": 3})]
    _, (link,) = health([], [Journalled(n, record) for n, record in enumerate(records, 1)])
    assert dict(link.rejected) == {"bad-sum": 812, "too-long": 3}
