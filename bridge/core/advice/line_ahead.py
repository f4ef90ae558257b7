"""Whether the section ahead of a train is free for it: who is in it, who goes before, and what its rule says.

Rule: read from the state, changing nothing; whether the rule of the section lets a train in is judged by
`bridge.core.line.line_clear` alone.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from bridge.core.advice import predicting
from bridge.core.advice.hindrances import Going, Hindrance, numbers
from bridge.core.advice.rivals import ahead
from bridge.core.detection.doubtful import doubted
from bridge.core.line.line_clear import WEAK, verdict
from bridge.core.line.presence import Presence
from bridge.core.line.tokens import Token
from bridge.core.line.ways import way_of, worked_by_object
from bridge.core.plant import Section
from bridge.core.readings import called

if TYPE_CHECKING:
    from bridge.core.state import State

BEHIND_S = 5.0  # so long a detector may take to go off behind a train: common practice, no source


def against(state: State, going: Going) -> Iterator[Hindrance]:
    """What of the section stands against a train's going, the gravest first."""
    held = state.authorities.grants.get(going.section.id, {}).get(going.train.id)
    if held is not None and held.how == "assisting":
        yield Hindrance(f"it goes in to assist; make sure where the other stands in {going.section.id}", True)
        return
    inside = list(_inside(state, going))
    yield from inside
    way = "down" if going.throat == going.section.from_throat else "up"
    if way not in going.section.directions:
        yield Hindrance(f"no train may run {way} in {going.section.id}")
    yield from _ahead(state, going)
    yield from _authority(state, going, bool(inside))


def _inside(state: State, going: Going) -> Iterator[Hindrance]:
    """Who and what is in the section, or may be."""
    where, section = state.where, going.section
    assert where is not None
    others = [p for p in state.presences.get(section.id, ()) if p.train != going.train.id]
    others = [p for p in others if not p.told_clear and p.cleared != "complete"]
    for presence in others:
        yield _train_in(state, presence, section)
    mine = set(where.company(going.train.engine))
    left = [v for v in where.line(section.id) if v not in mine] if not others else []
    if left:
        names, verb = ", ".join(called(state, v) for v in left), "stands" if len(left) == 1 else "stand"
        evidence = tuple(sorted({n for v in left for n in where.belief(v).evidence}))
        yield Hindrance(f"{names} {verb} in {section.id}", False, None, evidence)
    yield from _told(state, section, bool(others or left))


def _train_in(state: State, presence: Presence, section: Section) -> Hindrance:
    """Another train in the section, or coming out of it."""
    other = state.roster.trains[presence.train]
    evidence = () if presence.n is None else (presence.n,)
    if presence.cleared == "incomplete":
        return Hindrance(f"the last vehicle of {other.id} was not seen to clear {section.id}", True, None, evidence)
    if presence.out_at is not None:
        return Hindrance(f"{other.id} to clear {section.id}", False, None, evidence, waits_on=other.id)
    until_s = predicting.clears_s(state, other, other.call + 1)
    return Hindrance(f"{other.id} to arrive and clear {section.id}", False, until_s, evidence, waits_on=other.id)


def _told(state: State, section: Section, known: bool) -> Iterator[Hindrance]:
    """What its detectors say, and whether it was proved clear; `known`: what is in it has been told."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    for detector in railway.plant.covering.get(section.id, ()):
        now = conditioning.detectors[detector.id]
        seen = numbers(now.evidence)
        if now.state == "clear" and doubted(state, (detector.id,)):
            yield Hindrance(f"{detector.id} says that {section.id} is clear, and is under doubt", True, None, seen)
        elif now.state == "unknown":
            yield Hindrance(f"what {detector.id} says of {section.id} is unknown ({now.why})", True, None, seen)
        elif now.state == "occupied" and not known and (behind := _just_cleared(state, section, now.since_t)):
            yield behind
        elif now.state == "occupied" and not known:
            yield Hindrance(f"{detector.id} says that something is in {section.id}", True, None, seen, now.since_t)
    proof = state.authorities.proof.get(section.id, "assumed")
    if proof == "assumed" and section.id not in railway.plant.covering and not known:
        yield Hindrance(f"nothing has proved {section.id} clear since the session began", True)
    elif proof == "incomplete" and not known:
        yield Hindrance(f"the last vehicle that was in {section.id} was not seen to leave it", True)


def _just_cleared(state: State, section: Section, since_t: float) -> Hindrance | None:
    """A detector that has not gone off yet behind a train that was proved out a moment ago."""
    engine, _, out_t = state.came_out.get(section.id, ("", "", 0.0))
    train, again_t = state.roster.current(engine), round(out_t + BEHIND_S, 6)
    if train is None or since_t > out_t or state.t >= again_t:
        return None
    return Hindrance(f"{train.id} to clear {section.id}", again_t=again_t)


def _ahead(state: State, going: Going) -> Iterator[Hindrance]:
    """The trains for which it is booked to wait, and those that are booked through the section before it."""
    for rival in ahead(state, going.train, going.call, going.section):
        other = state.roster.trains[rival.train]
        if any(p.train == other.id and p.cleared is None for p in state.presences.get(going.section.id, ())):
            continue
        until_s = predicting.clears_s(state, other, rival.call + (not rival.comes))
        if rival.comes:
            yield Hindrance(f"{other.id} to arrive and clear", False, until_s, waits_on=other.id, is_booked=True)
        else:
            yield Hindrance(f"{other.id} to go first", False, until_s, waits_on=other.id, is_booked=True)


def _authority(state: State, going: Going, is_said: bool) -> Iterator[Hindrance]:
    """What the rule of the section says; `is_said`: who or what is in it has been told already."""
    section, train = going.section, going.train
    found, token = verdict(state, section, train.id, going.throat), state.authorities.tokens.get(section.id)
    if found.allowed:
        if found.why == WEAK and not is_said:
            yield Hindrance(f"{section.id} is not proved clear", True)
    elif token is not None and worked_by_object(section) and token.holder is None:
        yield _token(section, token, going.call.station, found.why)
    elif not is_said:
        yield Hindrance(found.why)


def _token(section: Section, token: Token, here: str, why: str) -> Hindrance:
    """A token or staff that no train has."""
    name, seen = way_of(section).thing, numbers(token.since_n)
    if token.station is not None and token.assumed:
        return Hindrance(f"{name} is only assumed to lie at {token.station}", True, None, seen)
    if token.station == here:
        also = " or a ticket" if "ticket" in way_of(section).ends else ""
        return Hindrance(f"{name}{also} is to be taken first; it lies here", False, None, seen)
    return Hindrance(why, False, None, seen)
