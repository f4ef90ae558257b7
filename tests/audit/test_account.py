"""What stands, what was corrected, and what the clock showed."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as some

from bridge.audit.account import Account, clock_s, hms


def test_a_corrected_statement_names_what_stands_instead(told: Any) -> None:
    account = told.account()
    early = next(row for row in account.outcomes if row["says"] == "arrived")
    correction = account.corrections[early["n"]]
    assert account.by_number[correction.by]["says"] == "corrected"
    assert account.by_number[correction.instead]["late"] == -204
    assert early not in account.standing


def test_a_statement_withdrawn_has_nothing_in_its_place(told: Any) -> None:
    account = told.account()
    gone = next(row for row in account.outcomes if row.get("id") == "i4")
    assert account.corrections[gone["n"]].instead is None


def test_a_statement_of_another_thing_or_time_is_not_taken_for_the_instead(evening: Any) -> None:
    keys = {"station": "alder", "road": None, "booked_road": None, "late": None}
    first = evening.say(1.0, None, "departed", train="g1", **keys)
    evening.say(2.0, None, "corrected", of=first, why="")
    evening.say(2.0, None, "departed", train="g2", **keys)
    evening.say(3.0, None, "departed", train="g1", **keys)
    assert evening.account().corrections[first].instead is None


def test_a_correction_of_what_is_not_there_is_borne(evening: Any) -> None:
    evening.say(1.0, None, "corrected", of=77, why="")
    assert evening.account().corrections == {}


def test_the_clock_is_told_from_the_outcomes_around(told: Any) -> None:
    account = told.account()
    assert account.clock_at(171.0) == "19:11:20"  # 4 railway seconds to one, 11 s after 19:10:36
    departed = next(row for row in account.outcomes if row["says"] == "departed")
    assert account.happened_clock(departed) == "19:11:16"


def test_a_stopped_clock_does_not_run_on(evening: Any) -> None:
    evening.say(1.0, "19:00:00", "session", state="started", counts=None)
    evening.say(11.0, "19:00:40", "session", state="stopped", counts=None)
    evening.say(100.0, "19:00:40", "session", state="going-on", counts=None)
    assert evening.account().clock_at(50.0) == "19:00:40"


def test_past_midnight_the_clock_goes_on(evening: Any) -> None:
    evening.say(1.0, "23:59:00", "session", state="started", counts=None)
    evening.say(31.0, "00:01:00", "session", state="stopped", counts=None)
    assert evening.account().clock_at(26.0) == "24:00:40"


def test_without_any_clock_nothing_is_told(evening: Any) -> None:
    assert evening.account().clock_at(5.0) is None


@given(some.integers(0, 48 * 3600))
def test_clock_readings_come_back(seconds: int) -> None:
    assert clock_s(hms(seconds)) == seconds


def test_a_verdict_counts_until_it_is_undone(told: Any) -> None:
    assert told.account().verdicts == {"i1": "mine"}
    from bridge.wire.records import Said

    told.records.append(Said(421.0, None, f"undo {len(told.records) - 1}"))
    assert told.account().verdicts == {}


def test_an_empty_session_is_an_account_too(railway: Any) -> None:
    account = Account(railway, ())
    assert account.standing == ()
    assert account.lines == {}
