"""Line clear: may a train be let into a section, as things are known now?

Rule: read from the state, changing nothing; who is given what by it is `bridge.core.line.authority`'s. Unknown is never
clear, but where nothing says occupied and only proof is wanting, a train is let go with the words "evidence weak".
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.core.detection.doubtful import said_by
from bridge.core.line import plainly
from bridge.core.line.tokens import Token
from bridge.core.line.ways import way_of, worked_by_object
from bridge.core.plant import Section, SectionRule
from bridge.core.presence import Presence
from bridge.core.trains import Train
from bridge.core.wagons.moves import LIKELY, PLAIN

if TYPE_CHECKING:
    from bridge.core.state import State

CLEAR = "section clear"
WEAK = "evidence weak"
SHUNTS_S = 60.0  # who has shunted into a section and back so shortly before is still what its detector says
OWN_S = 10.0  # a section's detector that came on so shortly before a train was seen to go out was moved by that train


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether a train is let in, and why. `gives`: how it would have its authority from then on ("token", "section"); None
    where it has it already, or gets none."""

    allowed: bool
    why: str
    gives: str | None = None


def verdict(state: State, section: Section, train: str, throat: str, left: frozenset[str] = frozenset()) -> Verdict:
    """What entering this section by this throat would come to for a train. `left`: trains that went in and are taken to have
    left it, though nothing has told of that."""
    held = state.authorities.grants.get(section.id, {})
    if train in held:
        return Verdict(True, held[train].how)
    station = throat.partition(".")[0]
    token = state.authorities.tokens.get(section.id)
    if worked_by_object(section):
        if token is not None and token.holder is None and token.lifted_at == station:
            return Verdict(True, "token lifted", "token")
        return Verdict(False, _token_words(section, token))
    maybe = [p.train for p in state.presences.get(section.id, ()) if not has_plainly_gone(state, p)]
    others = [t for t in held if t != train and t not in maybe and t not in left]
    if others:
        return Verdict(False, f"{others[0]} has the section")
    if section.rule is SectionRule.TRACK_CIRCUIT:
        return _by_track_circuit(state, section, train, throat, left)
    proved, occupied = proved_clear(state, section, train, throat, left)
    if proved or not occupied:
        return Verdict(True, CLEAR if proved else WEAK, "section")
    return Verdict(False, "the section is not clear")


def _by_track_circuit(state: State, section: Section, train: str, throat: str, left: frozenset[str]) -> Verdict:
    against = [p for p in state.presences.get(section.id, ()) if p.train != train and throat not in (p.start, p.out_at)]
    against = [p for p in against if has_plainly_gone(state, p) and p.train not in left]
    if against:
        return Verdict(False, f"{against[0].train} has been let in from the other end")
    states = detector_states(state, section, train, left)
    if any(word == "occupied" for word in states):
        return Verdict(False, "the section is occupied")
    return Verdict(True, WEAK if any(word == "unknown" for word in states) else CLEAR, "section")


def _token_words(section: Section, token: Token | None) -> str:
    name = way_of(section).thing
    if token is None:
        return f"it has not {name}"
    if token.holder is not None:
        return f"{token.holder} has {name}"
    if token.station is not None:
        return f"{name} lies at {token.station}" + (" (assumed)" if token.assumed else "")
    return f"{name} was not given to it"


def detector_states(
    state: State, section: Section, train: str | None = None, left: frozenset[str] = frozenset()
) -> list[str]:
    """What the section's track detectors say, an occupation too fresh to be another's left out, and what a train that enters
    has not ceased to occupy since it shunted there."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    words: list[str] = []
    rows = [p for p in state.presences.get(section.id, ()) if p.train not in left]
    alone = not any(p.out_at is None and has_plainly_gone(state, p) for p in rows)
    shunter, back_t = state.shunted.get(section.id, ("", -1e9))
    is_shunter = train == shunter and state.t - back_t < SHUNTS_S
    for detector in railway.plant.covering.get(section.id, ()):
        now = conditioning.detectors[detector.id]
        own = now.since_t >= state.t - OWN_S or (is_shunter and now.lasts_t <= back_t)
        words.append("clear" if own and alone and now.state == "occupied" else said_by(state, detector.id))
    return words


def proved_clear(
    state: State, section: Section, train: str, throat: str, left: frozenset[str] = frozenset()
) -> tuple[bool, bool]:
    """(proved clear, something says occupied): the section as it was before this train, who enters by `throat`, came to it.
    What goes with no engine, and was read at its end, has more likely been put back than left on the line."""
    where = state.where
    assert where is not None
    states = detector_states(state, section, train, left)
    mine = {v for v in where.line(section.id) if _train_of(state, v) == train}
    believed = [v for v in where.line(section.id) if v not in mine and not _gone(state, section, v, throat)]
    inside = [p for p in state.presences.get(section.id, ()) if p.train != train and p.out_at is None and not p.told_clear]
    gone = [p for p in state.presences.get(section.id, ()) if p.train != train and p.out_at is not None]
    doubtful = [p for p in gone if not p.told_clear]
    maybe = {p.engine for p in state.presences.get(section.id, ()) if p.train in left or not has_plainly_gone(state, p)}
    those = [v for v in believed if where.leader(v) not in maybe]
    there = [v for v in those if plainly.is_in(state, v, section.id, LIKELY if where.leader(v) else PLAIN)]
    occupied = "occupied" in states or bool(there) or any(_is_held_in(state, p) for p in inside if p.train not in left)
    proof = state.authorities.proof.get(section.id, "assumed")
    nobody = not occupied and not believed and not inside and not doubtful
    proved = nobody and "unknown" not in states and proof != "incomplete"
    return proved, occupied


def _is_held_in(state: State, presence: Presence) -> bool:
    """True where a train that went in may well be there still: its engine is not plainly elsewhere."""
    return has_plainly_gone(state, presence) and not plainly.is_out(state, presence.engine, presence.section)


def has_plainly_gone(state: State, presence: Presence) -> bool:
    """False for a train that may have gone into its section, and may as well have stayed where it was."""
    return all(e.is_plain for e in state.entries.get(presence.section, ()) if e.cause == presence.cause)


def _gone(state: State, section: Section, vehicle: str, throat: str) -> bool:
    """A vehicle still believed in the section although its train has come out at the end where another now enters, or an
    engine although it has come out by either."""
    train = _train_of(state, vehicle)
    rows = [p for p in state.presences.get(section.id, ()) if p.train == train and p.out_at is not None]
    return any(p.out_at == throat or p.engine == vehicle for p in rows)


def _train_of(state: State, vehicle: str) -> str | None:
    where = state.where
    assert where is not None
    engine = where.leader(vehicle)
    train = state.roster.current(engine) if engine is not None else None
    return train.id if train is not None else engine


def refusal(state: State, section: Section, train: str, how: str | None, who: Train | None) -> str | None:
    """Why the rule forbids that a train be given authority; None where it allows it."""
    others = [t for t in state.authorities.grants.get(section.id, {}) if t != train]
    token = state.authorities.tokens.get(section.id)
    here = _asks_at(state, section, who)
    if how == "ticket":
        if how not in way_of(section).ends:
            return "this section knows no tickets"
        if token is None or token.holder is not None or (token.station is not None and token.station != here):
            return f"the staff is not at {here}"
        return None
    if worked_by_object(section) and token is not None:
        if token.holder is not None and token.holder != train:
            return f"{token.holder} has it"
        if "ticket" in way_of(section).ends and others:
            return f"{others[0]} is in the section on a ticket" if _opposing(state, section, others, here) else None
        return None
    return f"{others[0]} has it" if others else None


def _asks_at(state: State, section: Section, who: Train | None) -> str | None:
    """The station at which a train is to take what lets it into a section: where it is, or to which it is on its way, though
    nothing need have told that it has left."""
    railway = state.railway
    assert railway is not None
    if who is not None and who.section is None and who.station not in section.stations and who.working is not None:
        return next((c.station for c in who.working.calls[who.call :] if c.station in section.stations), who.station)
    if who is None or who.section is None or who.section == section.id:
        return who.station if who is not None else None
    ahead = [station for station in railway.plant.sections[who.section].stations if station != who.station]
    return next((station for station in ahead if station in section.stations), who.station)


def _opposing(state: State, section: Section, others: list[str], here: str | None) -> bool:
    return any(p.train in others and p.start.partition(".")[0] != here for p in state.presences.get(section.id, ()))
