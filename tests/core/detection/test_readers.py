"""A reader that misses too much is named by what was counted, and no longer once it reads well.

What passes readers is told here by hand, as the engine of inference tells it; stories of board lines are in the recordings
`reader-weak`, `reader-weak-dead` and `near-reader-weak`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from bridge.core.whereabouts import Passage

from ..conftest import Session

Sessions = Callable[..., Session]


class Passing:
    """A session in which passages are told of by hand."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.told: list[Passage] = []
        where: Any = session.state.where
        where.drain_passages = self._drain
        for reader in ("ash-end", "birch-end"):
            session.see(reader, "off", 0.0)
        session.wait(61.0)

    def _drain(self, t: float) -> list[Passage]:
        found, self.told = self.told, []
        return found

    def at(self, reader: str, *unread: float, vehicle: str = "w1") -> Passing:
        """Passages at a reader, each as likely unread as is said."""
        self.told += [Passage(reader, vehicle, each) for each in unread]
        self.session.see("ash-loop", "on", 0.1)
        return self

    @property
    def text(self) -> str:
        (row,) = self.session.open("reader-weak")
        return row["text"]


@pytest.fixture
def passing(session: Sessions) -> Passing:
    made = Passing(session())
    return made.at("birch-end", *[0.0] * 3, vehicle="w1")


def test_over_a_fifth_of_twenty_is_too_much(passing: Passing) -> None:
    passing.at("ash-end", *[0.0] * 15, *[1.0] * 4)
    assert passing.session.open() == []
    passing.at("ash-end", 1.0)
    assert passing.text == "Reader ash-end has read 15 of 20 vehicles that passed it and that other readers read."
    assert passing.session.open()[0]["detector"] == "ash-end"


def test_a_fifth_is_not_over_a_fifth(passing: Passing) -> None:
    passing.at("ash-end", *[0.0] * 16, *[1.0] * 4)
    assert passing.session.open() == []


def test_what_may_not_have_passed_counts_as_little(passing: Passing) -> None:
    passing.at("ash-end", *[0.0] * 15, *[0.5] * 7)
    assert passing.session.open() == []


def test_one_that_has_read_nothing_at_all_shows_sooner(passing: Passing) -> None:
    passing.at("ash-end", *[1.0] * 4)
    assert passing.session.open() == []
    passing.at("ash-end", 1.0)
    assert passing.text == "Reader ash-end has not read one of 5 vehicles that passed it and that other readers read."


def test_a_tag_that_nobody_reads_says_nothing_of_readers(passing: Passing) -> None:
    passing.at("ash-end", *[1.0] * 30, vehicle="w9")
    assert passing.session.open() == []


def test_a_tag_that_another_reader_reads_later_was_missed_all_the_same(passing: Passing) -> None:
    passing.at("ash-end", *[1.0] * 5, vehicle="w9").at("birch-end", 0.0, vehicle="w9")
    assert passing.text.startswith("Reader ash-end has not read one of 5")


def test_what_only_the_reader_itself_reads_is_no_proof_against_it(passing: Passing) -> None:
    passing.at("ash-end", 0.0, *[1.0] * 25, vehicle="w9")
    assert passing.session.open() == []


def test_a_reader_that_is_not_heard_has_missed_nothing(passing: Passing) -> None:
    passing.session.say("mute ash-end")
    passing.at("ash-end", *[1.0] * 30)
    passing.session.say("unmute ash-end")
    passing.at("ash-end", *[1.0] * 30)  # what is told of a moment later happened before
    assert passing.session.open() == []


def test_it_ends_when_it_reads_well_again_and_another_weakness_is_another_item(passing: Passing) -> None:
    passing.at("ash-end", *[0.0] * 10, *[1.0] * 10)
    passing.at("ash-end", *[0.0] * 17)
    assert len(passing.session.open()) == 1
    passing.at("ash-end", *[0.0] * 1)
    assert passing.session.open() == []
    passing.at("ash-end", *[1.0] * 12)
    assert [row["id"] for row in passing.session.open()] == ["i2"]


def test_the_railway_may_say_how_many_and_how_much(session: Sessions) -> None:
    passing = Passing(session(limits={"weak_reads": 10, "weak_share": 0.4}))
    passing.at("birch-end", 0.0).at("ash-end", *[0.0] * 6, *[1.0] * 4)
    assert passing.session.open() == []
    passing.at("ash-end", 1.0)
    assert passing.text.startswith("Reader ash-end has read 6 of 11")


def test_a_string_that_may_have_passed_unread_is_one_doubt_and_what_was_read_in_between_parts_doubts(
    passing: Passing,
) -> None:
    """The whole train has gone by unread, or has not been there at all."""
    passing.at("ash-end", *[0.0] * 19, *[0.75] * 9)
    assert passing.session.open() == []
    for _ in range(12):
        passing.at("ash-end", 0.0, 0.75)
    assert "Reader ash-end has read" in passing.text
