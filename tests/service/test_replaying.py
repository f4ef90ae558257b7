"""The order in which the core is fed: deadlines before lines, none while the service is down, sessions in a row."""

from __future__ import annotations

from dataclasses import replace

import pytest

from bridge.core.events import DeadlinePassed, Event, FolderTaken, Journalled
from bridge.core.plan import Railway
from bridge.service.folding import Core, Evening, FoldError
from bridge.service.replaying import replay
from bridge.wire.records import HostStarted, HostStopped, Record, Said

from .conftest import SIMPLE, report


def watched() -> tuple[Core, list[Event]]:
    """The simple core, and every event that it is fed."""
    fed: list[Event] = []

    def fold(state, event):
        fed.append(event)
        return SIMPLE.fold(state, event)

    return replace(SIMPLE, fold=fold), fed


def order(railway: Railway, *records: Record) -> list[str]:
    core, fed = watched()
    list(replay(railway, records, core))
    return [
        "folder" if isinstance(event, FolderTaken) else f"#{event.n}" if isinstance(event, Journalled) else f"{event.t:g}"
        for event in fed
    ]


def test_a_deadline_at_or_before_a_line_goes_first(railway: Railway) -> None:
    lines = (report(1, t=1.0), report(2, "off", t=1.999999), report(3, t=2.0), report(4, "off", t=9.0))
    assert order(railway, *lines) == ["folder", "#1", "#2", "2", "#3", "3", "#4"]


def test_no_deadline_passes_behind_the_last_line(railway: Railway) -> None:
    assert order(railway, report(1, t=1.0)) == ["folder", "#1"]


def test_none_passes_while_the_service_is_down(railway: Railway) -> None:
    lines = (report(1, t=1.0), HostStopped(1.5), HostStarted(50.0), report(2, "off", t=50.1))
    assert order(railway, *lines) == ["folder", "#1", "#2", "#3", "50", "#4"]


def test_the_folder_is_taken_at_the_first_line(railway: Railway) -> None:
    core, fed = watched()
    list(replay(railway, [report(1, t=12.5)], core))
    assert fed[0] == FolderTaken(12.5, railway)


def test_behind_an_end_all_counts_anew(railway: Railway) -> None:
    lines = (Said(1.0, None, "begin 19:00"), Said(2.0, None, "end"), report(1, "off", t=3.0), Said(4.0, None, "begin 20:00"))
    core, fed = watched()
    said = [(outcome.n, outcome.says, outcome.evidence) for outcome in replay(railway, lines, core)]
    assert said == [
        (1, "session", (1,)),
        (2, "session", (2,)),
        (1, "observed", (1,)),
        (2, "session", (2,)),
        (3, "closed", ()),
    ]
    assert [event.t for event in fed if isinstance(event, FolderTaken)] == [1.0, 3.0]


def test_an_end_with_nothing_running_ends_nothing(railway: Railway) -> None:
    said = list(replay(railway, [Said(1.0, None, "end"), report(1, "off", t=2.0)], SIMPLE))
    assert [outcome.evidence for outcome in said] == [(2,), ()]


def test_no_session_is_closed_that_has_no_line(railway: Railway) -> None:
    lines = (Said(1.0, None, "begin 19:00"), Said(2.0, None, "end"))
    assert [outcome.says for outcome in replay(railway, lines, SIMPLE)] == ["session", "session"]
    assert list(replay(railway, [], SIMPLE)) == []


def test_a_failing_core_is_told_with_the_line(railway: Railway) -> None:
    with pytest.raises(FoldError, match=r"journal number 1 \(4\.500000 operator fail\): ZeroDivisionError: a rule"):
        list(replay(railway, [Said(4.5, None, "fail")], SIMPLE))


def test_a_core_that_wakes_itself_for_ever_is_stopped(railway: Railway) -> None:
    restless = replace(SIMPLE, due=lambda state: 1.0)
    evening = Evening(restless, railway)
    evening.take(report(1, t=1.0))
    with pytest.raises(FoldError, match="again and again"):
        for _ in range(100_000):
            evening.pass_deadline(evening.due_by(5.0))


def test_a_deadline_of_the_past_passes_at_the_last_event(railway: Railway) -> None:
    late = replace(SIMPLE, due=lambda state: 0.25 if state.said == 1 else None)
    core_order = [
        event.t for event in list(replay(railway, [report(1, t=1.0), report(2, t=5.0)], late)) if event.says == "woken"
    ]
    assert core_order == [1.0]


def test_deadlines_are_woken_by_events_of_their_own(railway: Railway) -> None:
    core, fed = watched()
    list(replay(railway, [report(1, t=1.0), report(2, "off", t=9.0)], core))
    assert DeadlinePassed(2.0) in fed
