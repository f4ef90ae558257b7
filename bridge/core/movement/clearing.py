"""The section behind a train that has come out of it: clear by proof, or without proof after a time.

Rule: a section is cleared on proof of the last vehicle by the best there is; without proof only after a time, and said to
be incomplete; a later proof corrects that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.expected import Expected
from bridge.core.line import authority, divided
from bridge.core.line.behind import has_felt, section_proof, section_says, still_inside, works_detectors
from bridge.core.line.ways import OUT_OF_SECTION
from bridge.core.movement.going import spread
from bridge.core.presence import Presence
from bridge.core.readings import limit
from bridge.core.trains import Phase
from bridge.core.wagons import reckoning

if TYPE_CHECKING:
    from bridge.core.conditioning import Observation
    from bridge.core.state import State


def try_cleared(state: State, presence: Presence) -> None:
    """A section behind a train that has come out: clear by its detectors, or, without proof, after a time."""
    states = section_says(state, presence.section)
    mine = still_inside(state, presence)
    alone = not any(p is not presence and p.out_at is None for p in state.presences.get(presence.section, ()))
    proved = bool(states) and all(word == "clear" for word in states) and has_felt(state, presence)
    if proved and alone and works_detectors(state, presence, mine):
        _gather(state, presence, None)
        cleared(state, presence, True, section_proof(state, presence.section))
    elif presence.cleared is None and presence.out_sign_t is not None and "occupied" not in states:
        train = state.roster.trains[presence.train]
        waited = state.t >= round(presence.out_sign_t + limit(state, "complete_after", 30.0), 6)
        is_inside = train.phase is Phase.IN_SECTION and train.section == presence.section
        if waited and not is_inside and (len(mine) < 2 or not _tells(state, presence)) and not divided.is_open(presence):
            _gather(state, presence, None)
            cleared(state, presence, False, None)


def given_back(state: State, presence: Presence, n: int | None) -> None:
    """What let a train into its section was given back: where nothing tells of who comes out, it has brought all it has."""
    if presence.out_at is not None and not _tells(state, presence) and not divided.is_open(presence):
        _gather(state, presence, n)


def _tells(state: State, presence: Presence) -> bool:
    """True where something tells of who comes out of a section where a train has come out: it has not told of the rest."""
    railway = state.railway
    assert railway is not None
    ends = [b for b in railway.plant.at_stretch[presence.section] if b.throat == presence.out_at]
    return any(railway.plant.standing_at.get(b.id) for b in ends) or bool(railway.plant.covering.get(presence.section))


def _gather(state: State, presence: Presence, n: int | None) -> None:
    where = state.where
    assert where is not None
    for change in where.gather(presence.engine, presence.section, state.t, n, Expected(state)):
        spread(state, change)


def tail_treadle(state: State, section: str, throat: str, seen: Observation) -> None:
    """A tail treadle was passed at a section end: the last vehicle of a train that is coming out there."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    for presence in state.presences.get(section, ()):
        if presence.out_at != throat or presence.out_t_far is None or presence.cleared == "complete":
            continue
        company = where.company(presence.engine)
        if not any(railway.stock[v].tail for v in company) or seen.t - presence.out_t_far < 1.0:
            continue
        remains = still_inside(state, presence)
        if remains and not railway.stock[remains[0]].tail and not railway.stock[remains[-1]].tail:
            continue
        _gather(state, presence, seen.n)
        cleared(state, presence, True, seen.n)


def late_tag(state: State, section: str, throat: str, seen: Observation) -> None:
    """A vehicle that was only taken to have come out with its train is read at the section end: that is the proof."""
    where = state.where
    assert where is not None
    vehicle = where.vehicle_of(seen.tag or "")
    for presence in list(state.presences.get(section, ())):
        if vehicle is None or presence.cleared != "incomplete" or presence.out_at != throat:
            continue
        if where.leader(vehicle) == presence.engine and vehicle != presence.engine and where.belief(vehicle).by == "carried":
            cleared(state, presence, True, seen.n)


def cleared(state: State, presence: Presence, complete: bool, n: int | None) -> None:
    """The section is clear behind a train, its last vehicle proved (`complete`) or not; a proof corrects."""
    if presence.cleared == "complete" or (presence.cleared == "incomplete" and not complete):
        return
    if presence.cleared == "incomplete":
        state.ledger.correct(presence.cleared_n, "its last vehicle is proved now", (n,))
    elif presence.read_far:
        reckoning.passed_reader(state, state.roster.trains[presence.train], presence.out_t)
    presence.cleared = "complete" if complete else "incomplete"
    if complete:
        divided.proved(state, presence)
    presence.cleared_n = state.ledger.say(
        "cleared",
        {"train": presence.train, "section": presence.section, "complete": complete},
        (n if n is not None else presence.n,),
    )
    if complete or not presence.told_clear:
        state.authorities.proof[presence.section] = presence.cleared
    authority.end(state, presence.section, presence.train, OUT_OF_SECTION, n)
    if complete and presence.out_at is not None:
        state.came_out[presence.section] = (presence.engine, presence.out_at, state.t)
    rows = state.presences[presence.section]
    older = rows[: rows.index(presence)]
    state.presences[presence.section] = [
        p for p in rows if not (p is presence and complete) and not (p in older and p.cleared is not None)
    ]
    state.touch("section", presence.section)
