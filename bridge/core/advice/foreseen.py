"""What is foreseen of trains that run late or stand: that two will meet in a section, that some wait for each other.

Rule: kept from the answers to who may go (`bridge.core.advice.may_go`), and looked at when those change. A meeting is
foreseen from ten session minutes before the later train's time, where the plan has another through the section before it,
by its times alone, and that one will not be clear by a minute after. Trains wait for each other in a circle only once the
time of each has come.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from bridge.core.advice import predicting, rivals, way_out
from bridge.core.advice.hindrances import Going, Hindrance, numbers
from bridge.core.facts import Circle, Meeting
from bridge.core.line.ways import worked_by_object
from bridge.core.movement.trains import Phase, Train
from bridge.core.readings import limit

if TYPE_CHECKING:
    from bridge.core.state import State

BEFORE_S = 600.0  # the contract's for what is foretold, where the railway has no limit of its own
MARGIN_S = 60.0  # less is made up on the way, or waited for without anybody's noticing: common practice, no source


def look(state: State, train: Train, going: Going | None, found: list[Hindrance]) -> None:
    """The answer for a train was made anew, with what stands against its going."""
    meeting = None if going is None else _meeting(state, going)
    if meeting != state.meetings.get(train.id):
        if meeting is None:
            del state.meetings[train.id]
        else:
            state.meetings[train.id] = meeting
        state.touch("meeting", train.id)
    waits: dict[str, bool] = {}
    for one in found:
        if one.waits_on is not None:
            waits[one.waits_on] = waits.get(one.waits_on, True) and one.is_booked
    if waits and going is not None:
        state.waiting[train.id] = waits
    else:
        state.waiting.pop(train.id, None)
    _look_round(state, train.id)


def wakes_s(state: State, going: Going) -> float | None:
    """The session second from which a meeting is foreseen."""
    depart_s = going.call.depart_s
    return None if depart_s is None else depart_s - limit(state, "due_before", BEFORE_S)


def _meeting(state: State, going: Going) -> Meeting | None:
    """The train that this one will meet if it leaves at its time."""
    now_s, depart_s, from_s = state.clock.session_s(state.t), going.call.depart_s, wakes_s(state, going)
    if now_s is None or depart_s is None or from_s is None or now_s < from_s:
        return None
    for rival in rivals.ahead(state, going.train, going.call, going.section):
        other = state.roster.trains[rival.train]
        token = state.authorities.tokens.get(going.section.id)
        is_held = worked_by_object(going.section) and token is not None and token.holder == other.id
        clears_s = predicting.clears_s(state, other, rival.call) if rival.comes else None
        if clears_s is None or is_held or rival.train in going.call.wait_for or clears_s <= depart_s + MARGIN_S:
            continue
        presence = predicting.on_its_way(state, other)
        is_in = presence is not None and presence.section == going.section.id
        before = state.meetings.get(going.train.id)
        if before is not None and before.other == other.id and abs(before.clears_s - clears_s) < MARGIN_S:
            return replace(before, is_in=is_in)
        cause = f"meeting:{going.section.id}:{going.train.id}:{going.call.index}:{other.id}:{rival.call}"
        evidence = numbers(None if presence is None else presence.n)
        return Meeting(cause, going.section.id, other.id, going.call.station, depart_s, clears_s, now_s, is_in, evidence)
    return None


def _look_round(state: State, name: str) -> None:
    """Circles that this train was in, or closes."""
    for key, circle in list(state.circles.items()):
        if name in circle.trains and not _holds(state, circle.trains):
            del state.circles[key]
            state.touch("circle", key)
    trains = _circle_from(state, name)
    if not trains:
        return
    key = " ".join(sorted(trains))
    if key not in state.circles:
        state.circles[key] = Circle(f"circle:{key}:{state.t:.6f}", trains, way_out.of(state, trains))
        state.touch("circle", key)


def _holds(state: State, trains: tuple[str, ...]) -> bool:
    return all(then in _waits(state, one) for one, then in zip(trains, (*trains[1:], trains[0]), strict=True))


def _circle_from(state: State, name: str) -> tuple[str, ...]:
    """The trains of a circle through this one, each before the one for which it waits; none where there is no circle."""
    ways: list[tuple[str, ...]] = [(name,)]
    tried = {name}
    while ways:
        way = ways.pop(0)
        for then in _waits(state, way[-1]):
            if then == name:
                return way
            if then not in tried:
                tried.add(then)
                ways.append((*way, then))
    return ()


def _waits(state: State, name: str) -> dict[str, bool]:
    """For whom a train waits, its time having come; whether that is by the plan alone."""
    train, now_s = state.roster.trains[name], state.clock.session_s(state.t)
    if train.phase is Phase.IN_SECTION:
        return dict.fromkeys(way_out.in_the_way(state, train), False)
    call = train.this_call()
    early = call is not None and call.depart_s is not None and now_s is not None and now_s < call.depart_s
    return {} if early or train.phase is not Phase.AT_STATION else state.waiting.get(name, {})
