"""What is learned of readers and tags: a weak one shows, a dead one soon, a tag that lies there teaches nothing."""

from __future__ import annotations

from dataclasses import replace
from math import log

import pytest

from bridge.core.learned import Learned
from bridge.core.plant import Detector, DetectorKind
from bridge.core.whereabouts import Passage
from bridge.core.whereabouts.weighing.quality import DEAD, DIES, USUAL, Quality

from .yards import plant, stock

MOUTH = "a.dock@down"
READER = f"reader {MOUTH}"
LINE = plant({"a.dock": ("siding", "down"), "a.main": ("running", "down")}, readers=[MOUTH, "a.main@down"])


def with_two_readers() -> Quality:
    detectors = {**LINE.detectors, "second": Detector("second", DetectorKind.READER, "one", 7, at=MOUTH)}
    return Quality(replace(LINE, detectors=detectors))


def test_at_first_a_reader_misses_what_readers_usually_do() -> None:
    assert Quality(LINE).missed(MOUTH) == pytest.approx(USUAL + 0.1 * (1 - USUAL))  # one in ten is dead
    assert Quality(LINE).missed("a.loop@down") is None


def test_each_reader_is_learned_by_itself() -> None:
    quality = Quality(LINE)
    for n in range(200):
        quality.was_read(f"w{n}", MOUTH, READER, 20.0 * n)
        if n % 2:
            quality.was_unread(f"v{n}", MOUTH, 1.0, 20.0 * n)
    assert quality.missed(MOUTH) == pytest.approx(1 / 3, abs=0.02)
    assert quality.missed("a.main@down") == Quality(LINE).missed("a.main@down")


def test_a_reader_that_never_reads_is_soon_taken_for_dead_and_one_read_shows_that_it_lives() -> None:
    quality = Quality(LINE)
    for n in range(4):
        quality.was_unread(f"w{n}", MOUTH, 1.0, 1.0 * n)
    quality.drain(100.0)
    assert (quality.missed(MOUTH) or 0.0) > 0.9
    quality.was_read("w9", MOUTH, READER, 200.0)
    assert (quality.missed(MOUTH) or 1.0) < 0.3


def test_a_tag_that_lies_by_a_reader_and_is_said_for_minutes_is_no_proof_that_it_reads_well() -> None:
    quality = Quality(LINE)
    for n in range(200):
        quality.was_read("w1", MOUTH, READER, 3.0 * n)
    assert len(quality.drain(1000.0)) == 2
    once = Quality(LINE)
    for t in (0.0, 60.0):
        once.was_read("w1", MOUTH, READER, t)
    assert quality.missed(MOUTH) == once.missed(MOUTH)


def test_out_and_back_is_two_passages_and_a_repeat_in_passing_none() -> None:
    quality = Quality(LINE)
    for t in (0.0, 0.8, 5.0):
        quality.was_read("w1", MOUTH, READER, t)
    assert quality.drain(100.0) == [Passage(READER, "w1", 0.0)] * 2


def test_what_is_read_a_little_later_was_not_missed() -> None:
    quality = Quality(LINE)
    quality.was_unread("e1", MOUTH, 0.8, 1.0)
    quality.was_read("e1", MOUTH, READER, 4.0)
    assert quality.drain(100.0) == [Passage(READER, "e1", 0.0)]


def test_what_is_not_read_for_ten_seconds_was_missed_as_surely_as_it_passed() -> None:
    quality = Quality(LINE)
    quality.was_unread("e1", MOUTH, 0.8, 1.0)
    assert quality.drain(10.9) == []
    assert quality.drain(11.0) == [Passage(READER, "e1", 0.8)]


def test_of_two_readers_at_one_boundary_each_is_told_of() -> None:
    quality = with_two_readers()
    quality.was_read("w1", MOUTH, READER, 0.0)
    quality.was_read("w2", MOUTH, READER, 1.0)
    quality.was_read("w1", MOUTH, "second", 1.2)  # it stands a little further on, and misses w2
    quality.was_read("w3", MOUTH, "second", 20.0)
    assert quality.drain(20.0) == [
        Passage(READER, "w1", 0.0),
        Passage(READER, "w2", 0.0),
        Passage("second", "w1", 0.0),
        Passage("second", "w2", 1.0),
        Passage("second", "w3", 0.0),
    ]
    quality.was_unread("w4", MOUTH, 0.9, 30.0)
    assert [(row.reader, row.unread) for row in quality.drain(50.0)] == [(READER, 0.9), ("second", 0.9)]


def test_a_tag_that_good_readers_miss_is_weak() -> None:
    quality, vehicles = Quality(LINE), stock("w1", "w2")
    for n in range(20):
        quality.was_read(f"v{n}", MOUTH, READER, 10.0 * n)
    for n in range(4):
        quality.was_unread("w1", MOUTH, 1.0, 200.0 + n)
    quality.drain(300.0)
    assert quality.unread(vehicles["w1"], MOUTH) > quality.unread(vehicles["w2"], MOUTH) + 1.0


def test_what_was_learned_counts_half_in_the_next_session() -> None:
    quality = Quality(LINE)
    for n in range(20):
        quality.was_read(f"w{n}", MOUTH, READER, 20.0 * n)
        quality.was_unread(f"v{n % 2}", MOUTH, 1.0, 20.0 * n)
    quality.drain(1000.0)
    learned = quality.learned()
    assert learned.readers == {MOUTH: (10.0, 10.0)}
    after = Quality(LINE)
    after.know(learned)
    usual, known, worn = (each.missed(MOUTH) or 0.0 for each in (Quality(LINE), after, quality))
    assert usual + 0.1 < known < worn
    assert after.learned().readers == {MOUTH: (5.0, 5.0)}


def test_of_a_reader_that_is_no_longer_there_nothing_is_kept() -> None:
    quality = Quality(LINE)
    quality.know(Learned({"a.gone@up": (3.0, 4.0)}, {}))
    assert quality.missed("a.gone@up") is None
    assert quality.learned().readers == {}


def test_a_dead_reader_misses_all_of_a_train_and_one_that_lives_only_one_or_another() -> None:
    """Ten pass a reader of which nothing is known: hardly ever missed one by one, but one reader in ten is dead."""
    quality, ten = Quality(LINE), list(stock(*(f"w{n}" for n in range(10))).values())
    alone = quality.unread(ten[0], MOUTH)
    assert quality.all_unread(ten[:1], MOUTH) == pytest.approx(alone)
    assert quality.all_unread(ten, MOUTH) == pytest.approx(log(DEAD), abs=1e-6)
    for n in range(50):
        quality.was_read(f"v{n}", MOUTH, READER, 20.0 * n)
    assert quality.all_unread(ten, MOUTH) == pytest.approx(log(DIES), abs=1e-6)  # it may have died since
    assert quality.all_unread(ten[:2], MOUTH) < 1.5 * quality.unread(ten[0], MOUTH)


def test_where_no_reader_stands_or_no_tag_passes_nothing_is_missed() -> None:
    quality, ten = Quality(LINE), list(stock(*(f"w{n}" for n in range(10))).values())
    assert quality.all_unread(ten, "a.loop@down") == 0.0
    assert quality.all_unread([replace(each, tags=()) for each in ten], MOUTH) == 0.0
