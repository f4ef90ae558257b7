"""What is plain enough of trains and sections that a danger may rest on it.

Rule: a danger is said where its evidence is plain. Where a train may be, but may as well be elsewhere, nothing is concluded
from its being there; nor is it proved to be away. What is said of it then, advice says: look.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.plant import Section
from bridge.core.presence import NEAR_S, Presence
from bridge.core.readings import far_throat, stretch_state
from bridge.core.trains import Phase, Train
from bridge.core.wagons.booked import open_move
from bridge.core.wagons.moves import KNOWN, LIKELY, PLAIN
from bridge.core.whereabouts import Crossing

if TYPE_CHECKING:
    from bridge.core.state import State

STRING_S = 10.0  # who goes in so shortly behind others runs in their train: common practice, no source
SEVERAL = 2  # vehicles, so many of which are not all taken for a train's by mistake: from virtual evenings
TOLD_S = 2.0  # what tells of the same thing tells so soon: a vehicle is over a section end in that time


def is_there(state: State, engine: str, section: str, went_t: float, least: float = LIKELY) -> bool:
    """True where something of an engine's train is plainly in a section, and it is known where the engine is: a vehicle that
    is read may else go with another engine than is held. Where several have been read in, or one of its own and the engine
    is likely there with it, no more need be known of that. `went_t`: when the train went in; `least`: how likely it must be
    there, be it read or not."""
    where = state.where
    assert where is not None
    mine = [v for v in _led_by(state, engine, section) if _is_of(state, v, engine, went_t)]
    if _is_known(state, engine):
        return any(is_in(state, v, section, least) for v in mine)
    read = [v for v in mine if v != engine and where.belief(v).by == "seen" and is_in(state, v, section, PLAIN)]
    train = state.roster.current(engine)
    is_own = train is not None and any(_is_its_own(state, v, train) for v in read)
    return len(read) >= SEVERAL or (is_own and where.likely(engine).get(section, 0.0) >= KNOWN)


def is_read_going(state: State, crossing: Crossing, engine: str, throat: str) -> bool:
    """True where a vehicle was read as it went into a section that nothing has occupied, by an engine that may take it
    there: one that is in it too, or before it, or on the road from which the vehicle came."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    section = crossing.goal
    at_hand = {section, throat, where.came_from(crossing.vehicle)}
    by_it = sum(likely for place, likely in where.likely(engine).items() if place in at_hand)
    is_read = crossing.by == "seen" and is_in(state, crossing.vehicle, section, PLAIN)
    is_read = is_read and _is_of(state, crossing.vehicle, engine, crossing.t)
    return is_read and by_it >= PLAIN and stretch_state(state, section) != "occupied"


def has_stood(state: State, engine: str, section: str) -> bool:
    """True where vehicles that go with an engine were read as they came into a section, and have been there for a while:
    whatever leads them."""
    where = state.where
    assert where is not None
    mine = [v for v in _led_by(state, engine, section) if where.belief(v).by == "seen"]
    return any(is_in(state, v, section, PLAIN) and where.since(v) <= state.t - NEAR_S for v in mine)


def is_in(state: State, vehicle: str, section: str, least: float = LIKELY) -> bool:
    """True where a vehicle is plainly in a section. One that was read at its end may always have come to the reader and gone
    back, and is held to be in it all the same."""
    where = state.where
    assert where is not None
    least = least if where.belief(vehicle).by == "seen" else PLAIN
    return where.likely(vehicle).get(section, 0.0) >= least and _is_known(state, vehicle)


def is_out(state: State, vehicle: str, section: str, least: float = PLAIN) -> bool:
    """True where a vehicle is plainly not in a section, or as surely as `least`."""
    where = state.where
    assert where is not None
    return where.likely(vehicle).get(section, 0.0) <= 1.0 - least


def follows_unseen(state: State, presence: Presence) -> bool:
    """True where a train's engine is known to be out of its section, and nothing there would tell that the rest follows."""
    railway = state.railway
    assert railway is not None
    if not is_out(state, presence.engine, presence.section, KNOWN) or stretch_state(state, presence.section) == "occupied":
        return False
    far = far_throat(state, presence).partition(".")[0]
    return not railway.plant.read_at(f"{presence.section}@{far}")


def may_be_another(state: State, train: Train, section: Section, throat: str, went_t: float) -> bool:
    """True where what went in may be another train, for neither the engine of this one nor what is its own was read there:
    one that holds authority for the section and may have come to either end of it, or one that went in at the same moment,
    at whichever end, or goes in there right now; nor where another engine was read at that end, and not its own. `went_t`:
    when this one is held to have gone in."""
    where = state.where
    assert where is not None
    if _is_another_read(state, train.engine, throat, went_t):
        return True
    mine = [v for v in _led_by(state, train.engine, section.id) if v == train.engine or _is_its_own(state, v, train)]
    if any(where.belief(v).by == "seen" for v in mine):
        return False
    rows = [presence for presence in state.presences.get(section.id, ()) if presence.train != train.id]
    now = [p for p in rows if p.out_at is None]
    if any(abs(p.out_t - went_t) <= STRING_S or (p.start == throat and state.t - p.last_sign_t <= STRING_S) for p in now):
        return True
    holders = {*state.authorities.grants.get(section.id, {})} - {train.id, *(presence.train for presence in rows)}
    return any(_is_at_hand(state, holder, section) for holder in holders)


def may_come_out(state: State, train: Train, section: Section, went_t: float, least: float) -> bool:
    """True where a train that was not known to be at the station where it is read at a section end may as well come out of
    the section there: that has been occupied since long before, and nobody was known to be in it."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    if least < PLAIN or any(p.train != train.id and p.out_at is None for p in state.presences.get(section.id, ())):
        return False
    rows = [conditioning.detectors[d.id] for d in railway.plant.covering.get(section.id, ())]
    return any(now.state == "occupied" and now.lasts_t < went_t - STRING_S for now in rows)


def _is_another_read(state: State, engine: str, throat: str, went_t: float) -> bool:
    """True where an engine was read at a throat as something went out there, and it was not this one: what it brings is
    taken for this one's."""
    read = {other for other, (at, t) in state.read_last.items() if at == throat and abs(t - went_t) <= STRING_S}
    return bool(read) and engine not in read


def _is_its_own(state: State, vehicle: str, train: Train) -> bool:
    """True for what has gone with a train from the start, or what it is moving as it is booked to."""
    where, now = state.where, open_move(state, vehicle)
    assert where is not None
    return where.joined_t(vehicle) < 0.0 or (now is not None and now.state == "in-train" and now.train == train.id)


def _is_at_hand(state: State, holder: str, section: Section) -> bool:
    """True where a train is at an end of a section, or on its way to one."""
    railway, train = state.railway, state.roster.trains.get(holder)
    assert railway is not None
    if train is None or train.phase is Phase.ENDED:
        return False
    before = railway.plant.sections.get(train.section or "")
    around = {train.station} if before is None else {train.station, *before.stations}
    return not around.isdisjoint(section.stations)


def is_followed(state: State, engine: str) -> bool:
    """False for an engine that may be otherwhere than at any of the places at which it is held to be likely: too much that
    could have been was let go, or it was read elsewhere."""
    where = state.where
    assert where is not None
    belief = where.belief(engine)
    covers = belief.sure >= PLAIN * where.likely(engine).get(belief.place, 0.0)
    return covers and not is_read_elsewhere(state, engine)


def is_read_elsewhere(state: State, engine: str) -> bool:
    """True for an engine that was read elsewhere since it came where it is held to be, or so shortly before that it cannot
    have come there: that read was taken for a mistake, and may have been none."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    throat, read_t = state.read_last.get(engine, ("", -1e9))
    if read_t <= where.since(engine) - STRING_S:
        return False
    beside = {boundary.outer for boundary in railway.plant.at_stretch[throat]}
    place = where.place(engine)
    return place not in beside and railway.plant.station_of(place) != railway.plant.station_of(throat)


def least_for(state: State, crossing: Crossing, throat: str) -> float:
    """How likely a train must be in a section which a vehicle of it has entered by a throat: whoever has not been at that
    station, as far as anything has told, may as well have come out there."""
    railway = state.railway
    assert railway is not None
    station = railway.plant.throats[throat].station
    return LIKELY if railway.plant.station_of(crossing.start) == station else PLAIN


def is_witnessed(state: State, crossing: Crossing, engine: str, throat: str) -> bool:
    """True where something at a section has told of a train that has entered it. Who is only reckoned to have gone in, for
    another train to have room where it was seen, may have gone elsewhere."""
    where = state.where
    assert where is not None
    if crossing.by not in ("order", "carried"):
        return True
    read = {v for v in where.line(crossing.goal) if where.belief(v).by == "seen" and where.since(v) >= crossing.t - TOLD_S}
    if read:
        return not read.isdisjoint(_led_by(state, engine, crossing.goal))
    return state.t - state.trodden_at.get(throat, -1e9) <= TOLD_S or stretch_state(state, crossing.goal) == "occupied"


def _is_of(state: State, vehicle: str, engine: str, went_t: float) -> bool:
    """True for what belonged to a train before that went anywhere. Who is held to go with an engine only since a moment
    before it was read going in goes with one that nobody has seen."""
    where = state.where
    assert where is not None
    return vehicle == engine or where.joined_t(vehicle) < went_t - STRING_S


def _led_by(state: State, engine: str, section: str) -> list[str]:
    where = state.where
    assert where is not None
    return [v for v in where.line(section) if where.leader(v) == engine]


def _is_known(state: State, vehicle: str) -> bool:
    where = state.where
    assert where is not None
    belief = where.belief(vehicle)
    return belief.sure >= (LIKELY if belief.by == "seen" else KNOWN)
