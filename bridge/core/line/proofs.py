"""Trains in, or on their way into, what a proof guards: a movable bridge, gates.

Rule: unknown is not proved. A train is at risk from when it enters what is guarded, or leaves its road for the section
beyond with all that goes with it and nothing left to do, or once it was told to depart; waiting and shunting short of it
are no risk. Where what a proof says becomes unknown under a train, its board has a second to say how things stand, as at a
start.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.core.facts import Risk, Unproved
from bridge.core.plant import Detector, Section
from bridge.core.presence import Presence
from bridge.core.readings import stretch_state
from bridge.core.trains import Phase, Train, first_section, section_after
from bridge.core.wagons.booked import outstanding
from bridge.core.wagons.moves import LIKELY

if TYPE_CHECKING:
    from bridge.core.state import State

STATED_S = 1.0  # so soon boards say how their inputs stand when they are back: common practice, no source


@dataclass(frozen=True, slots=True)
class _Comer:
    """A train at risk: since when, by which journal number, and whether it is in what is guarded."""

    t: float
    n: int | None
    inside: bool


def stir(state: State, stretch: str) -> None:
    """Something was seen on a stretch, or changed there: the proofs near it are looked at after it."""
    railway = state.railway
    assert railway is not None
    for detector in railway.plant.proofs_near.get(stretch, ()):
        state.unlooked[detector] = None


def heard(state: State, board: str) -> None:
    """A board was lost or is back: so are the proofs that it watches."""
    railway = state.railway
    assert railway is not None
    for detector in railway.plant.proofs:
        if detector.board == board:
            state.unlooked[detector.id] = None


def after(state: State) -> None:
    """Once an event is digested: which trains are at risk now."""
    railway = state.railway
    assert railway is not None
    while state.unlooked:
        detector = next(iter(state.unlooked))
        del state.unlooked[detector]
        _look(state, railway.plant.detectors[detector])


def pass_deadline(state: State) -> None:
    """Boards have had their second."""
    while (found := state.proving.pop(state.t)) is not None:
        _, (_, detector, _, _) = found
        state.unlooked[detector] = None


def due(state: State) -> float | None:
    """The next such moment."""
    return state.proving.first()


def _look(state: State, detector: Detector) -> None:
    comers = _comers(state, detector)
    risks = state.risks.setdefault(detector.id, {})
    for train in [t for t in risks if t not in comers]:
        del risks[train]
    for train, comer in comers.items():
        risk = risks.setdefault(train, Risk(comer.t, comer.n, comer.inside))
        risk.inside = comer.inside
        _judge(state, detector, train, risk)
    if not risks:
        del state.risks[detector.id]
    state.touch("proof", detector.id)


def _judge(state: State, detector: Detector, train: str, risk: Risk) -> None:
    """Is what is guarded proved under this train, and if not, is that news?"""
    conditioning = state.conditioning
    assert conditioning is not None
    now, lost = conditioning.detectors[detector.id], state.lost_boards.get(detector.board)
    if risk.unproved is not None and risk.unproved.follows not in (None, lost and lost[0]):
        risk.unproved = None  # its board is back
    if now.state != "unknown" or lost is not None:
        risk.asked = False
    if now.state == "proved":
        risk.unproved = None
    elif risk.unproved is None:
        under = now.since_t > risk.since_t
        if now.state == "unknown" and under and lost is None:
            if not risk.asked:
                risk.asked = True
                state.proving.set("proof", detector.id, state.t + STATED_S)
            if state.proving.waits("proof", detector.id):
                return
        evidence = tuple(sorted({n for n in (risk.n, now.evidence, *(lost[2] if lost else ())) if n is not None}))
        happened = round(max(risk.since_t, now.since_t), 6)
        risk.unproved = Unproved(
            f"proof:{detector.id}:{train}:{happened:.6f}",
            now.why if now.state == "unknown" else None,
            () if lost is None else (detector.board,),
            evidence,
            lost[0] if lost is not None and under else None,
            happened,
        )


def _comers(state: State, detector: Detector) -> dict[str, _Comer]:
    """The trains that are at risk now."""
    railway = state.railway
    assert railway is not None
    guards = detector.guards or ""
    section = railway.plant.sections.get(guards)
    found = dict(_standing(state, guards))
    if section is not None:
        found |= dict(_leaving(state, section))
        found |= {
            p.train: _Comer(p.out_t, p.n, True) for p in state.presences.get(guards, ()) if _is_inside(state, p, found)
        }
    return found


def _standing(state: State, stretch: str) -> Iterator[tuple[str, _Comer]]:
    """Trains of which a vehicle is believed on a stretch."""
    where = state.where
    assert where is not None
    for vehicle in where.line(stretch):
        engine, belief = where.leader(vehicle), where.belief(vehicle)
        if engine is not None and belief.sure >= LIKELY:
            train = state.roster.current(engine)
            yield train.id if train is not None else engine, _Comer(state.t, max(belief.evidence, default=None), True)


def _is_inside(state: State, presence: Presence, believed: dict[str, _Comer]) -> bool:
    """True for a train that is in its section, for some part of it at least."""
    return presence.cleared is None and (presence.out_at is None or presence.train in believed)


def _leaving(state: State, section: Section) -> Iterator[tuple[str, _Comer]]:
    """Trains that have left their road for a section, and have not gone into it yet."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    for throat in section.throats:
        engines = list(dict.fromkeys(lead for v in where.line(throat) if (lead := where.leader(v)) is not None))
        for train in _bound_for(state, section, throat, engines or _engines_beside(state, throat)):
            complete = all(where.place(v) == throat for v in where.company(train.engine))
            if train.told_depart or (complete and not outstanding(state, train)):
                yield train.id, _Comer(state.t, _seen_at(state, throat), False)


def _engines_beside(state: State, throat: str) -> list[str]:
    """Where somebody is in a throat, and nobody is known to be: the engines on the roads beside it."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    if stretch_state(state, throat) != "occupied":
        return []
    roads = [b.outer for b in railway.plant.at_stretch[throat] if b.outer in railway.plant.roads]
    return [v for road in roads for v in where.line(road) if railway.stock[v].kind == "engine"]


def _bound_for(state: State, section: Section, throat: str, engines: list[str]) -> Iterator[Train]:
    """Of the trains that these engines work, or work next, those that are booked into a section from a station."""
    railway = state.railway
    assert railway is not None
    for engine in engines:
        train, follower = state.roster.current(engine), state.roster.following(engine)
        over = train is None or train.phase is Phase.ENDED or train.next_call() is None
        if over and follower is not None and follower.working is not None:
            here = railway.plant.throats[throat].station == follower.working.calls[0].station
            busy = train is not None and outstanding(state, train) and not follower.told_depart
            if here and not busy and first_section(railway, follower.working) is section:
                yield follower
        elif train is not None and train.phase is Phase.AT_STATION and section_after(railway, train) is section:
            yield train


def _seen_at(state: State, throat: str) -> int | None:
    """The journal number by which somebody is known to be in a throat."""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    assert railway is not None and where is not None and conditioning is not None
    numbers = [conditioning.detectors[d.id].evidence for d in railway.plant.covering.get(throat, ())]
    numbers += [n for v in where.line(throat) for n in where.belief(v).evidence]
    return max((n for n in numbers if n is not None), default=None)
