"""Who may be in which section: tokens, what operators gave, and the section itself.

Rule: authority is judged at the moment a train goes out, from what was known then. What lies on a token's rest is known by
its tag; what is clear, `bridge.core.line.line_clear` says. Nothing here raises an irregularity: `bridge.core.rules.sections`
does, from the entries judged here.
"""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from bridge.core.line import inside
from bridge.core.line.line_clear import refusal, verdict
from bridge.core.line.tokens import Asked, Grant, Token
from bridge.core.line.ways import GIVEN_BACK, LAID_DOWN, way_of, worked_by_object
from bridge.core.plan import Railway
from bridge.core.plant import Section
from bridge.core.readings import far_throat
from bridge.core.trains import Phase, first_section, section_after
from bridge.core.wagons.booked import outstanding

if TYPE_CHECKING:
    from bridge.core.conditioning import Observation
    from bridge.core.state import State

TELLS_S = 5.0  # so long after a staff was laid down, or sooner, its rest tells of it: common practice, no source


def begin(state: State) -> None:
    """Say where the tokens lie: by their rests, else assumed at the end from which the first booked working needs them."""
    railway = state.railway
    assert railway is not None
    needed = _needed_at(railway)
    for section in railway.plant.sections.values():
        state.authorities.proof.setdefault(section.id, "assumed")
        if not worked_by_object(section):
            continue
        token = state.authorities.tokens.setdefault(section.id, Token())
        if token.station is None and token.lifted_at is None:
            token.station, token.assumed = needed.get(section.id, section.from_throat.partition(".")[0]), True
        if token.station is not None:
            why = "assumed" if token.assumed else token.station
            _say(state, section.id, None, "returned", why, (token.since_n,))
        else:
            _say(state, section.id, None, "returned", "assumed", (token.since_n,))


def _needed_at(railway: Railway) -> dict[str, str]:
    """Of each section that a working is booked to run through, from which of its stations the first of them does."""
    first: dict[str, tuple[float, str]] = {}
    for working in railway.workings.values():
        for here, then in pairwise(working.calls):
            section = railway.plant.section_between(here.station, then.station)
            when = here.depart_s if here.depart_s is not None else (here.arrive_s or 0.0)
            if section is not None and (section.id not in first or when < first[section.id][0]):
                first[section.id] = (when, here.station)
    return {section: station for section, (_, station) in first.items()}


def rest_seen(state: State, seen: Observation) -> str | None:
    """A token's rest said something: a token laid down, or lifted. What it states once more, as at a start, is no news: a
    token given by word may lie there all the time. The train that has laid it down; None where none has."""
    railway = state.railway
    assert railway is not None
    detector = railway.plant.detectors[seen.detector]
    section = railway.plant.sections.get(detector.token or "")
    if section is None or detector.station is None:
        return None
    says = seen.tag or seen.state
    if says is None or says == "unknown" or (state.authorities.rests.get(detector.id) == says and not seen.moves):
        return None
    state.authorities.rests[detector.id] = says
    token = state.authorities.tokens.setdefault(section.id, Token())
    if seen.tag is not None:
        if section.token_tags and seen.tag not in section.token_tags:
            return None
        holder = token.holder
        token.shunter = (holder or token.shunter) if detector.station == token.lifted_at else None
        token.station, token.assumed, token.lifted_at, token.holder = detector.station, False, None, None
        token.since_n, token.given = seen.n, False
        if state.running and (holder is not None or seen.moves):
            end(state, section.id, holder, LAID_DOWN, seen.n, why=detector.station)
        _look_at_ticket(state, section)
        return holder
    if seen.state == "off" and seen.moves and token.station in (detector.station, None):
        token.station, token.assumed, token.lifted_at, token.since_n = None, False, detector.station, seen.n
        if state.running and token.holder is None:
            taker = _booked_next(state, section, detector.station)
            if taker is not None and not _may_shunt(state, token, detector.station, taker):
                grant(state, section, taker, "token lifted", seen.n)
    return None


def _look_at_ticket(state: State, section: Section) -> None:
    """A token came to lie somewhere: a ticket that was told moments before, and refused for want of it, is given."""
    asked = state.authorities.asked.pop(section.id, None)
    if asked is None or state.t - asked.t > TELLS_S or not state.running:
        return
    if refusal(state, section, asked.train, "ticket", state.roster.trains.get(asked.train)) is None:
        grant(state, section, asked.train, "told", asked.n, "ticket")


def _booked_next(state: State, section: Section, station: str) -> str | None:
    """The train at a station that is booked next into a section; None where that is open."""
    railway = state.railway
    assert railway is not None
    waiting: list[tuple[float, str]] = []
    for train in state.roster.trains.values():
        if train.station != station or train.phase is not Phase.AT_STATION:
            continue
        nxt = section_after(railway, train)
        call = train.this_call()
        if nxt is not None and nxt.id == section.id and call is not None:
            waiting.append((call.depart_s if call.depart_s is not None else 1e9, train.id))
        follower = state.roster.following(train.engine)
        if nxt is None and follower is not None and follower.working is not None:
            first = first_section(railway, follower.working)
            if first is not None and first.id == section.id and follower.working.calls[0].station == station:
                waiting.append((follower.working.calls[0].depart_s or 1e9, follower.id))
    return min(waiting)[1] if waiting else None


def _may_shunt(state: State, token: Token, station: str, taker: str) -> bool:
    """True where another than the train booked next may have taken a token: the one that laid it down where it had lifted
    it, and still has work to do there."""
    train = state.roster.trains.get(token.shunter or "")
    return train is not None and train.id != taker and train.station == station and outstanding(state, train)


def grant(state: State, section: Section, train: str, why: str, n: int | None, how: str = "token") -> None:
    """A train receives authority; said once."""
    held = state.authorities.grants.setdefault(section.id, {})
    token = state.authorities.tokens.get(section.id)
    if token is not None and how == "token":
        token.holder = train
        token.given = True
        if token.station is not None:
            token.lifted_at, token.station = token.station, None
    if train in held and held[train].how == how:
        return
    held[train] = Grant(how, state.t)
    state.touch("section", section.id)
    _say(state, section.id, train, "given", why, (n,))


def end(state: State, section: str, train: str | None, by: str, n: int | None, why: str | None = None) -> None:
    """Something happened that ends authorities, as `bridge.core.line.ways` has it: a train's is over where it is of that
    sort (train None: nobody's, a token came to lie somewhere). `why` is said in place of `by`."""
    railway = state.railway
    assert railway is not None
    held = state.authorities.grants.get(section, {})
    had = held.get(train) if train is not None else None
    state.touch("section", section)
    if train is not None:
        if had is None or by not in way_of(railway.plant.sections[section]).ends[had.how]:
            return
        del held[train]
    _say(state, section, train, "returned", why or by, (n,))


def told_return(state: State, section_id: str, train: str, n: int) -> None:
    """An operator who has looked gives an authority back: the section is clear."""
    railway = state.railway
    assert railway is not None
    token = state.authorities.tokens.get(section_id)
    state.authorities.proof[section_id] = "told"
    for presence in state.presences.get(section_id, ()):
        if presence.train == train:
            presence.told_clear = True
            state.stirred[section_id] = None
    if token is not None and token.holder == train:
        token.station = _station_of(state, section_id, train) or token.lifted_at
        token.holder, token.given, token.since_n = None, False, n
        token.lifted_at, token.assumed = None, token.station is None
    end(state, section_id, train, GIVEN_BACK, n)


def _station_of(state: State, section: str, train: str) -> str | None:
    """The station at which a train is that gives back what it had for a section. It may have yet to come to its road; and
    of one that has departed and has not been seen since, its word is that it has come through."""
    who = state.roster.trains.get(train)
    if who is None or who.phase is Phase.AT_STATION:
        return who.station if who is not None else None
    presence = next((p for p in reversed(state.presences.get(section, ())) if p.train == train), None)
    engine, throat, _ = state.came_out.get(section, ("", "", 0.0))
    if presence is not None:
        throat = presence.out_at or (far_throat(state, presence) if presence.departed else presence.start)
    elif who.section != section or engine != who.engine:
        return who.station
    return throat.partition(".")[0]


def told_give(state: State, section_id: str, train: str, how: str | None, n: int) -> str | None:
    """An operator gives authority; why it is refused, None where it is given."""
    railway = state.railway
    assert railway is not None
    section = railway.plant.sections[section_id]
    who = state.roster.trains.get(train)
    why = None if how == "assisting" else refusal(state, section, train, how, who)
    if why is not None:
        if how == "ticket":
            state.authorities.asked[section_id] = Asked(train, state.t, n)
        _say(state, section_id, train, "refused", why, (n,))
        return why
    grant(state, section, train, "told", n, how or way_of(section).asked)
    return None


def judge(state: State, section: Section, train: str, throat: str, n: int | None, is_plain: bool = True) -> tuple[bool, str]:
    """May this train go out into this section, as things are known now? Its authority is given where the rule gives it; a
    token that somebody has lifted only to one that has plainly gone (`is_plain`): until then it may be another's."""
    found = verdict(state, section, train, throat)
    if not found.allowed:
        found = verdict(state, section, train, throat, inside.left(state, section.id, train))
    if found.gives == "token" and not is_plain:
        return False, found.why
    if found.gives is not None:
        grant(state, section, train, found.why, n, found.gives)
    return found.allowed, found.why


def _say(state: State, section: str, train: str | None, what: str, why: str, evidence: tuple[int | None, ...]) -> None:
    state.ledger.say("authority", {"section": section, "train": train, "state": what, "why": why}, evidence)
