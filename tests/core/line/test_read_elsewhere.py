"""Engines that are not where they are held to be: read elsewhere, or taken for another's; what rests on them is not plain.

Each case is one of an evening on a railway with few detectors, where a read was taken for a mistake and was none.
"""

from __future__ import annotations

from typing import Any

import pytest

from bridge.core.line import line_clear, plainly
from bridge.core.presence import Presence
from bridge.core.wagons.moves import LIKELY, PLAIN

from ..authority_steps import say
from ..believed import Believed
from ..conftest import ENDS, RESTS, TOKEN, Session, line
from ..four_stations import line_of_four

SECTION, THROAT, AT_T = "ash-birch", "ash.down", 30.0


def state_at(where: Believed, detectors: tuple[str, ...] = ENDS, **how: Any) -> Any:
    """A session that has come to `AT_T`, in which this is believed."""
    s = Session(line(detectors=detectors, **how))
    s.wait(AT_T - s.t)
    s.state.where, s.state.t = where, AT_T  # type: ignore[assignment]
    return s.state


@pytest.mark.parametrize(
    ("held", "since_t", "read_at", "read_t", "is_elsewhere"),
    [
        ("birch.main", 10.0, THROAT, 20.0, True),
        ("birch.main", 10.0, THROAT, 0.1, True),  # so soon nobody comes from there to here
        ("birch.main", 10.0, THROAT, 0.0, False),  # it has come since
        (SECTION, 10.0, THROAT, 20.0, False),  # it is beside where it was read
        ("ash.main", 10.0, THROAT, 20.0, False),
        ("ash.dock", 10.0, THROAT, 20.0, False),
    ],
)
def test_an_engine_is_read_elsewhere_than_it_is_held(
    held: str, since_t: float, read_at: str, read_t: float, is_elsewhere: bool
) -> None:
    state = state_at(Believed({"e1": {held: 1.0}}, stood={"e1": since_t}))
    assert not plainly.is_read_elsewhere(state, "e1")
    state.read_last["e1"] = (read_at, read_t)
    assert plainly.is_read_elsewhere(state, "e1") is is_elsewhere
    assert plainly.is_followed(state, "e1") is not is_elsewhere


@pytest.mark.parametrize(
    ("read", "is_another"),
    [
        ({"e2": (THROAT, 20.0)}, True),
        ({"e2": (THROAT, 19.9)}, False),  # long before
        ({"e2": ("birch.up", 30.0)}, False),  # elsewhere
        ({"e2": (THROAT, 30.0), "e1": (THROAT, 29.0)}, False),  # this one was read there too
        ({"e1": (THROAT, 30.0)}, False),
    ],
)
def test_what_goes_out_with_an_engine_that_is_read_is_of_no_other(
    read: dict[str, tuple[str, float]], is_another: bool
) -> None:
    """w1 is read going out; it goes with e1, as far as is known."""
    state = state_at(Believed({"w1": {SECTION: 1.0}}, leads={"w1": "e1"}))
    state.read_last.update(read)
    section, g1 = state.railway.plant.sections[SECTION], state.roster.trains["g1"]
    assert plainly.may_be_another(state, g1, section, THROAT, AT_T) is is_another


@pytest.mark.parametrize(
    ("on_t", "least", "other_in", "may_come_out"),
    [
        (19.9, PLAIN, False, True),
        (20.0, PLAIN, False, False),  # that was its own
        (19.9, LIKELY, False, False),  # it was known to be at that station
        (19.9, PLAIN, True, False),  # another was known to be in the section
        (None, PLAIN, False, False),
    ],
)
def test_who_was_in_no_known_place_may_come_out_of_what_has_long_been_occupied(
    on_t: float | None, least: float, other_in: bool, may_come_out: bool
) -> None:
    s = Session(line(detectors=("line", *ENDS)))
    if on_t is not None:
        s.on("line", after=on_t - s.t)
    if other_in:
        s.state.presences[SECTION] = [Presence("r3", "e3", SECTION, "birch.up", 10.0, 1, "e3", 10.0, "e3")]
    assert s.state.railway is not None
    section, g1 = s.state.railway.plant.sections[SECTION], s.state.roster.trains["g1"]
    assert plainly.may_come_out(s.state, g1, section, AT_T, least) is may_come_out


@pytest.mark.parametrize(("after_s", "is_given"), [(0.0, True), (4.0, True), (6.0, False)])
def test_a_ticket_that_is_told_as_the_staff_is_laid_down_is_given(after_s: float, is_given: bool) -> None:
    """Its rest tells of the staff a moment after the crew does: at once refused, then given."""
    s = Session(line(rule="staff-and-ticket", detectors=(*ENDS, *RESTS)))
    s.off("ash-rest").wait(12.0)
    say("give ash-birch p2 ticket")(s)
    assert [row["train"] for row in s.rows("authority", state="refused")] == ["p2"]
    s.see("ash-rest", f"tag={TOKEN}", after=after_s).wait(1.0)
    given = [row["train"] for row in s.rows("authority", state="given", why="told")]
    assert given == ["p2"] * is_given
    s.read("ash-end", "e2", after=12.0)
    assert bool(s.open("no-authority")) is not is_given


def test_a_staff_is_asked_for_at_the_station_to_which_nobody_has_seen_a_train_come() -> None:
    """One train went on from Birch with a ticket; the next has come to Birch unseen, and asks there for the staff."""
    calls = {"f1": ("birch", "cedar"), "p1": ("ash", "birch", "cedar")}
    s = Session(line_of_four("staff-and-ticket", calls))
    s.say("give birch-cedar f1 ticket")
    s.on("birch-down").on("birch-cedar").read("birch-cedar-at-birch", "ef1", "bf1")
    s.off("birch-f1", "birch-down").wait(25.0)
    s.say("give birch-cedar p1")
    assert s.rows("authority", state="refused") == []
    assert [row["train"] for row in s.rows("authority", state="given", section="birch-cedar")][-1] == "p1"


@pytest.mark.parametrize(
    ("leads", "likely", "occupied"), [("e3", 0.6, True), ("e3", 0.59, False), (None, 0.94, False), (None, 0.95, True)]
)
def test_what_goes_with_no_engine_is_left_in_a_section_only_plainly(
    leads: str | None, likely: float, occupied: bool
) -> None:
    """w2 was read at the end of the section, and may have been put back."""
    leaders = {} if leads is None else {"w2": leads}
    state = state_at(Believed({"w2": {SECTION: likely, "ash.dock": 1.0 - likely}}, leads=leaders))
    section = state.railway.plant.sections[SECTION]
    assert line_clear.proved_clear(state, section, "g1", THROAT) == (False, occupied)
