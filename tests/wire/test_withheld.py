"""What one record tells of many lines: read back as written, and numbers that count as if each had come by itself."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.wire.capture import format_record, read_capture
from bridge.wire.numbering import Numbering
from bridge.wire.records import Rejected
from bridge.wire.withheld import (
    Screaming,
    Withheld,
    lines_withheld,
    ranges,
    rejects_withheld,
    told_of_lines,
    told_of_rejects,
)

numbers = st.integers(1, 60)
screaming = st.builds(Screaming, st.integers(0, 31), st.integers(1, 9_999), st.integers(1, 9_999))
told = st.builds(
    Withheld,
    st.just("numbered"),
    st.just("alder"),
    st.integers(0, 0xFFFF_FFFF),
    st.sets(numbers, min_size=1).map(ranges),
    st.lists(screaming, min_size=1, max_size=4).map(tuple),
)


@settings(deadline=None)
@given(told)
def test_it_is_read_as_it_was_written_also_from_a_capture(withheld: Withheld) -> None:
    record = told_of_lines(12.5, "serial-alder", withheld)
    assert list(read_capture([format_record(record)])) == [record]
    assert lines_withheld(record) == withheld


def test_lines_without_numbers() -> None:
    edges = Withheld("edge", "alder", 0, (), (Screaming(3, 9_000, 5_000),))
    record = told_of_lines(1.0, "mqtt", edges)
    assert record.raw == b"edge alder 0 - 3=9000@5000"
    assert lines_withheld(record) == edges


def test_rejects_are_told_of_by_reason() -> None:
    record = told_of_rejects(1.0, "serial-x", {"too-long": 3, "bad-sum": 812})
    assert record.raw == b"bad-sum=812 too-long=3"
    assert rejects_withheld(record) == {"bad-sum": 812, "too-long": 3}
    assert lines_withheld(record) is None


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"numbered alder 17 - 3=1@1",
        b"edge alder 0 1-2 3=1@1",
        b"numbered alder 17 0-2 3=3@1",
        b"numbered alder 17 5-4 3=2@1",
        b"numbered alder 17 4,2 3=2@1",
        b"numbered ALDER 17 1-2 3=2@1",
        b"numbered alder 4294967296 1-2 3=2@1",
        b"numbered alder 17 1-4294967296 3=2@1",
        b"numbered alder 17 1-2",
        b"numbered alder 17 1-2 3=2@1 ",
        b"numbered alder 17 \xb2 3=2@1",
        b"\xff\xfe",
    ],
)
def test_other_bytes_are_an_ordinary_reject(raw: bytes) -> None:
    assert lines_withheld(Rejected(1.0, "mqtt", "screaming", raw)) is None


@settings(deadline=None)
@given(st.binary(max_size=40))
def test_whatever_stands_in_a_reject_is_read_or_not(raw: bytes) -> None:
    for reason in ("screaming", "flooding"):
        record = Rejected(1.0, "mqtt", reason, raw)
        found = lines_withheld(record)
        assert found is None or told_of_lines(1.0, "mqtt", found).raw.split()[1] == raw.split()[1]
        rejects_withheld(record)


def look(account: Numbering) -> tuple[object, ...]:
    missing = {n: row.gap for row in account.missing for n in range(row.first, row.last + 1)}
    return account.boot, account.highest, missing


@settings(deadline=None)
@given(st.sets(numbers), st.lists(st.tuples(numbers, st.integers(0, 12)), max_size=6), st.sets(numbers))
def test_numbers_taken_together_count_as_if_each_had_come(
    before: set[int], many: list[tuple[int, int]], behind: set[int]
) -> None:
    together, each = Numbering(), Numbering()
    for account in (together, each):
        for seq in before:
            account.take("report", 7, seq, 1.0)
    for first, more in many:
        told = together.take_many(7, first, first + more, 2.0)
        alone = [each.take("report", 7, seq, 2.0) for seq in range(first, first + more + 1)]
        assert told.fresh == any(taken.fresh for taken in alone)
        assert set(told.gaps) == {gap for taken in alone for gap in taken.gaps}
        assert set(told.closed) == {gap for taken in alone for gap in taken.closed}
        assert look(together) == look(each)
    for seq in behind:
        assert together.take("report", 7, seq, 3.0) == each.take("report", 7, seq, 3.0)


def test_a_boot_first_heard_of_in_them_is_a_new_boot() -> None:
    account = Numbering()
    account.take("hello", 7, None, 1.0)
    assert account.take_many(8, 1, 40, 2.0).new_boot
    assert account.boot == 8
