"""The firmware's other pure parts on this machine: numbered reports, debouncing, the count of starts, tags that stay."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from random import Random

import pytest

KEPT = 32
PLACES = 64


class Report(ctypes.Structure):
    _fields_ = [
        ("ms", ctypes.c_uint32),
        ("place", ctypes.c_uint8),
        ("value", ctypes.c_uint8),
        ("is_state", ctypes.c_uint8),
        ("tag", ctypes.c_uint8 * 5),
    ]


class Reports(ctypes.Structure):
    _fields_ = [
        ("kept", Report * KEPT),
        ("newest", ctypes.c_uint32),
        ("sent", ctypes.c_uint32),
        ("lost", ctypes.c_uint32),
        ("again", ctypes.c_uint32),
    ]


class Debounce(ctypes.Structure):
    _fields_ = [("steady", ctypes.c_uint8), ("differing", ctypes.c_uint8), ("planes", ctypes.c_uint8 * 5)]


class Seen(ctypes.Structure):
    _fields_ = [("tag", ctypes.c_uint8 * 5), ("is_there", ctypes.c_bool), ("last_ms", ctypes.c_uint16)]


class Field(ctypes.Structure):
    _fields_ = [("seen", Seen * 4), ("latest", ctypes.c_uint8)]


@pytest.fixture
def parts(pure: ctypes.CDLL) -> ctypes.CDLL:
    pure.reports_add.restype = ctypes.POINTER(Report)
    pure.reports_at.restype = ctypes.POINTER(Report)
    for name in ("reports_next", "reports_next_again", "reports_oldest", "boots_count"):
        getattr(pure, name).restype = ctypes.c_uint32
    pure.host_debounce.restype = ctypes.c_uint8
    for name in ("field_read", "field_left"):
        getattr(pure, name).restype = ctypes.c_bool
    return pure


def all_next(parts: ctypes.CDLL, reports: Reports) -> list[int]:
    return list(iter(lambda: parts.reports_next(ctypes.byref(reports)), 0))


def again(parts: ctypes.CDLL, reports: Reports, first: int, last: int) -> list[int]:
    parts.reports_again(ctypes.byref(reports), first, last)
    return list(iter(lambda: parts.reports_next_again(ctypes.byref(reports)), 0))


def test_what_was_sent_can_be_sent_again_as_long_as_it_is_kept(parts: ctypes.CDLL) -> None:
    reports = Reports()
    assert parts.reports_oldest(ctypes.byref(reports)) == 1
    assert again(parts, reports, 1, 0) == []
    for seq in range(1, 51):
        parts.reports_add(ctypes.byref(reports)).contents.ms = 1000 * seq
        assert all_next(parts, reports) == [seq]
    assert parts.reports_oldest(ctypes.byref(reports)) == 19
    assert again(parts, reports, 1, 0) == list(range(19, 51))
    assert again(parts, reports, 20, 22) == [20, 21, 22]
    assert again(parts, reports, 50, 2**32 - 1) == [50]
    assert again(parts, reports, 51, 0) == again(parts, reports, 22, 20) == again(parts, reports, 1, 18) == []
    assert parts.reports_at(ctypes.byref(reports), 33).contents.ms == 33000
    assert reports.lost == 0


def test_what_falls_out_unsent_is_counted_and_the_rest_is_sent(parts: ctypes.CDLL) -> None:
    reports = Reports()
    for _ in range(40):
        parts.reports_add(ctypes.byref(reports))
    assert again(parts, reports, 1, 0) == [], "what has not been sent is not sent twice"
    assert reports.lost == 8
    assert all_next(parts, reports) == list(range(9, 41))


def test_what_is_owed_again_and_falls_out_is_owed_no_more(parts: ctypes.CDLL) -> None:
    reports = Reports()
    for _ in range(KEPT):
        parts.reports_add(ctypes.byref(reports))
    all_next(parts, reports)
    parts.reports_again(ctypes.byref(reports), 1, 3)
    parts.reports_add(ctypes.byref(reports))
    assert again(parts, reports, 3, 3) == [2, 3]


def slow_debounce(samples: int, levels: list[int], start: int) -> Iterator[int]:
    """One input by itself, the long way: it has changed once so many samples on end were otherwise."""
    steady, count = start, 0
    for level in levels:
        count = count + 1 if level != steady else 0
        if count == samples:
            steady, count = level, 0
        yield steady


@pytest.mark.parametrize("samples", [1, 2, 10, 16, 20, 31])
def test_eight_inputs_at_once_are_debounced_as_each_by_itself(parts: ctypes.CDLL, samples: int) -> None:
    chance = Random(samples)
    port = Debounce(0b10110001)
    mask = 0b11111011
    tracks = []
    for _bit in range(8):
        track: list[int] = []
        while len(track) < 3000:
            track += [chance.randrange(2)] * chance.choice((1, 1, 2, 3, samples - 1, samples, samples + 1, 2 * samples))
        tracks.append(track[:3000])
    slow = [list(slow_debounce(samples, track, 0b10110001 >> bit & 1)) for bit, track in enumerate(tracks)]
    changes = 0
    for n in range(3000):
        before = port.steady
        levels = sum(track[n] << bit for bit, track in enumerate(tracks))
        changed = parts.host_debounce(ctypes.byref(port), levels, mask, samples)
        want = sum((row[n] if mask >> bit & 1 else 0b10110001 >> bit & 1) << bit for bit, row in enumerate(slow))
        assert port.steady == want
        assert changed == before ^ port.steady
        changes += changed != 0
    assert changes > 50


@pytest.fixture
def cells(parts: ctypes.CDLL) -> ctypes.Array[ctypes.c_uint8]:
    made = (ctypes.c_uint8 * 1024).in_dll(parts, "cells")
    ctypes.memset(made, 0xFF, 1024)
    ctypes.memset((ctypes.c_uint32 * 1024).in_dll(parts, "writes"), 0, 4096)
    ctypes.memset((ctypes.c_bool * 1024).in_dll(parts, "worn"), 0, 1024)
    ctypes.c_int32.in_dll(parts, "writes_left").value = -1
    return made


def test_starts_are_counted_and_no_cell_is_written_often(parts: ctypes.CDLL, cells: object) -> None:
    starts = 2000
    assert [parts.boots_count() for _ in range(starts)] == list(range(1, starts + 1))
    assert max((ctypes.c_uint32 * 1024).in_dll(parts, "writes")) <= starts // PLACES + 1


@pytest.mark.parametrize("content", [0x00, 0xA5, 0x5A, 0xFF])
def test_it_begins_with_1_whatever_stood_there_that_is_no_count(
    parts: ctypes.CDLL, cells: ctypes.Array[ctypes.c_uint8], content: int
) -> None:
    ctypes.memset(cells, content, 1024)
    assert [parts.boots_count() for _ in range(3)] == [1, 2, 3]


def test_a_start_cut_short_while_it_writes_never_makes_a_number_count_twice(parts: ctypes.CDLL, cells: object) -> None:
    """The power goes behind any write; a number counts once its start has got as far as to speak."""
    chance = Random(7)
    left = ctypes.c_int32.in_dll(parts, "writes_left")
    used: list[int] = []
    for _ in range(4000):
        left.value = chance.choice((-1, -1, 0, 1, 2, 3, 4))
        number = parts.boots_count()
        if left.value != 0:  # it was not cut: it goes on to say hello
            used.append(number)
    assert used == sorted(set(used))
    assert len(used) > 1000


def test_a_place_that_is_worn_out_is_passed_over(parts: ctypes.CDLL, cells: object) -> None:
    worn = (ctypes.c_bool * 1024).in_dll(parts, "worn")
    for cell in (5 * 7 + 3, 5 * 8 + 4, 5 * 63 + 3):
        worn[cell] = True
    assert [parts.boots_count() for _ in range(300)] == list(range(1, 301))


A, B = b"\x04\xa1\x00\x3b\x68", b"\x04\xa1\x00\x3b\x69"


def reads(parts: ctypes.CDLL, field: Field, tag: bytes, ms: int) -> bool:
    left = parts.field_left(ctypes.byref(field), ctypes.c_uint16(ms))
    assert isinstance(left, bool)
    return bool(parts.field_read(ctypes.byref(field), tag, ctypes.c_uint16(ms)))


@pytest.mark.parametrize("from_ms", [0, 65_400])
def test_a_tag_counts_once_while_it_stays_and_again_after_300_ms(parts: ctypes.CDLL, from_ms: int) -> None:
    field = Field()
    told = [ms for ms in range(0, 6500, 65) if reads(parts, field, A, from_ms + ms)]
    assert told == [0]
    last = from_ms + 6435
    assert not reads(parts, field, A, last + 299)
    assert reads(parts, field, A, last + 299 + 300)


def test_two_tags_read_by_turns_count_once_each(parts: ctypes.CDLL) -> None:
    field = Field()
    assert [reads(parts, field, (A, B)[n % 2], 50 * n) for n in range(20)] == [True, True] + [False] * 18


def test_more_tags_than_are_remembered_all_count(parts: ctypes.CDLL) -> None:
    field = Field()
    assert all(reads(parts, field, bytes([n, 1, 2, 3, 4]), 10 * n) for n in range(40))


def test_the_last_to_go_leaves_the_field_empty_once(parts: ctypes.CDLL) -> None:
    field = Field()
    reads(parts, field, A, 0)
    reads(parts, field, B, 200)
    gone = [ms for ms in range(200, 2000) if parts.field_left(ctypes.byref(field), ctypes.c_uint16(ms))]
    assert gone == [500]
