"""Tag reads: a vehicle was at a boundary, and one reads from its place in the picture which way it went.

Rule: a read takes a vehicle over the boundary from the side where it was; those that stood before it have passed unread,
if they are few and of the same train; a read again at once is none, and one behind a crossing that was only inferred
confirms it.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.conditioning import Observation
from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF, Prior

from .leaving import forsake
from .picture import Pass, Picture

REPEAT_S = 1.5  # a tag seen again at the same reader sooner than this has not turned back: common practice, no source
CONFIRM_S = 6.0  # a read so soon behind an inferred crossing confirms it; sooner than a train can stop and turn back
TRAIN_S = 25.0  # what is read so soon behind its engine, where that came in from a section, comes in too
UNREAD_MOST = 2  # so many may pass a reader unread before it is likelier that they stood in another order
LOOSE_S = 4.0  # what has not followed an engine out of a throat after so long was set down before


def read(picture: Picture, seen: Observation, boundary: Boundary, prior: Prior) -> None:
    """Take one read of a tag that a vehicle carries."""
    vehicle = picture.tags.get(seen.tag or "")
    if vehicle is None or _is_repeat(picture, vehicle, seen, boundary):
        return
    _take_back(picture, vehicle, boundary, seen)
    guess = picture.guesses.pop(vehicle, None)
    if guess is not None and guess.boundary == boundary.id and seen.happened_t - guess.t < CONFIRM_S:
        _note(picture, vehicle, boundary, guess.outward, seen)
        if vehicle in picture.engines:
            forsake(picture, vehicle, seen.t, seen.n, prior)
        return
    outward = _side(picture, vehicle, boundary, seen)
    start, end, goal = picture.other_end(boundary, outward)
    if picture.place(vehicle) == start:
        before = picture.lines.ahead(vehicle, end)
        if unlikely_before(picture, vehicle, before, boundary):
            picture.lines.put_at_end(vehicle, start, end)
            before = []
        for each in before:
            picture.cross(each, boundary, outward, seen.t, seen.n, "order", "missed")
        picture.cross(vehicle, boundary, outward, seen.t, seen.n, "seen", "seen")
    _note(picture, vehicle, boundary, outward, seen)
    if picture.waits_loose(boundary.throat) or (vehicle in picture.engines and goal in picture.plant.roads):
        picture.deadlines.set("loose", boundary.throat, seen.t + LOOSE_S)
    _regroup(picture, vehicle, start, goal, seen, prior)


def _is_repeat(picture: Picture, vehicle: str, seen: Observation, boundary: Boundary) -> bool:
    """True where a read tells nothing new: the same passage again, or one older than what is known since."""
    last = picture.reads.get(vehicle)
    if last is None:
        return False
    span_s = REPEAT_S if len(picture.stock[vehicle].tags) < 2 else REPEAT_S + 0.5  # two tags take longer to pass
    if last.boundary == boundary.id and abs(seen.happened_t - last.t) < span_s:
        last.t = max(last.t, seen.happened_t)
        picture.mark(vehicle, "seen", "seen", seen.n)
        return True
    return seen.happened_t < last.t - 0.001


def _take_back(picture: Picture, vehicle: str, boundary: Boundary, seen: Observation) -> None:
    """Another train was just taken for the one that is now read here: it has not moved."""
    taken = picture.taken.pop(boundary.id, None)
    if taken is None or seen.happened_t - taken[2] >= CONFIRM_S:
        return
    other, origin, t = taken
    read = picture.reads.get(other)
    same = picture.leader(other) == picture.leader(vehicle) or (read is not None and read.t >= t)
    if same or picture.place(other) != boundary.outer:
        return
    picture.cross(other, boundary, False, seen.t, seen.n, "order", "taken-back")
    way = picture.lines.path(boundary.throat, origin)
    if way:
        picture.haul_alone(other, way, seen.t, seen.n, "order", "taken-back")


def _note(picture: Picture, vehicle: str, boundary: Boundary, outward: bool, seen: Observation) -> None:
    passed = Pass(vehicle, boundary.id, seen.happened_t, outward)
    picture.reads[vehicle] = picture.read_at[boundary.id] = passed
    picture.mark(vehicle, "seen", "seen", seen.n)
    picture.stir(boundary.throat, seen.t)


def _side(picture: Picture, vehicle: str, boundary: Boundary, seen: Observation) -> bool:
    """Which way a vehicle goes that was read: True outward. One believed elsewhere is brought to the side whence
    it comes."""
    place = picture.place(vehicle)
    if place == boundary.outer:
        return False
    if picture.unproved.pop(vehicle, None) == boundary.id:
        return False  # it was only taken to have come in behind its train: now it is seen to
    if place == boundary.throat or picture.plant.station_of(place) == picture.plant.station_of(boundary.throat):
        lead = picture.leads.get(vehicle)
        came_in = picture.came_in.get((lead, boundary.id)) if lead is not None else None
        if came_in is not None and seen.t - came_in < TRAIN_S:
            return False  # it was believed in already, and comes in only now behind its engine
    if place == boundary.throat:
        return True
    way = picture.lines.path(place, boundary.throat) if place != OFF else []
    if len(way) == 1:
        if unlikely_before(picture, vehicle, picture.lines.ahead(vehicle, way[0].end), boundary):
            picture.lines.put_at_end(vehicle, place, way[0].end)
        picture.haul(vehicle, way, seen.t, seen.n, "order", "missed")
        return True
    through = bool(way) and boundary.id not in {b.id for b in way}
    if through and vehicle in picture.engines:
        picture.haul_alone(vehicle, way, seen.t, seen.n, "carried", "jumped")
        return True
    outward = _same_way(picture, vehicle, boundary, through)
    start, end, _ = picture.other_end(boundary, outward)
    picture.move(vehicle, start, 0 if end == 0 else None, seen.t, seen.n, "seen", "jumped")
    return outward


def _same_way(picture: Picture, vehicle: str, boundary: Boundary, through: bool) -> bool:
    """Which way a vehicle that turns up at a boundary goes: as the last one did there, else as it could come."""
    last = picture.read_at.get(boundary.id)
    if last is not None and last.vehicle != vehicle:
        return last.outward
    return through or boundary.outer in picture.plant.roads


def unlikely_before(picture: Picture, vehicle: str, before: Sequence[str], boundary: Boundary) -> bool:
    """True where it is likelier that these do not stand before a vehicle than that they passed unread: too many, another
    engine's, or, at a section end, nobody's."""
    lead = picture.leader(vehicle)
    others = {picture.leader(v) for v in before} - {lead}
    if boundary.outer in picture.plant.roads:
        others.discard(None)
    return len(before) > UNREAD_MOST or bool(lead is not None and others)


def _regroup(picture: Picture, vehicle: str, start: str, goal: str, seen: Observation, prior: Prior) -> None:
    """Who goes with whom, after a read."""
    if vehicle in picture.engines:
        forsake(picture, vehicle, seen.t, seen.n, prior)
        return
    engine = engine_for(picture, vehicle, start, goal, prior)
    if engine is None:
        return
    whence = start if start in picture.plant.roads else goal
    if goal in picture.plant.sections:
        for each in list(picture.line(goal)):
            if picture.leader(each) is None and picture.changed.get(each) == seen.t:
                picture.join(each, engine, whence, seen.t, seen.n)
    if picture.leads.get(vehicle) is not None or goal not in picture.plant.roads:
        picture.join(vehicle, engine, whence, seen.t, seen.n)


def engine_for(picture: Picture, vehicle: str, start: str, goal: str, prior: Prior) -> str | None:
    """The engine that moves a vehicle: its own, one beside it, the one booked to lift it, else the last that moved there."""
    lead = picture.leads.get(vehicle)
    near = picture.engines_on(start, goal)
    station = picture.plant.station_of(goal) or picture.plant.station_of(start)
    here = lead is not None and picture.plant.station_of(picture.place(lead)) == station
    if lead is not None and (lead in near or here or not near):
        return lead
    if near:
        return min(near)
    around = [e for e in picture.engines_at(station or "") if prior.awake(e)]
    wanted = prior.wanted(vehicle)
    if wanted in around:
        return wanted
    return max(around, key=lambda e: (picture.stirred.get(e, -1.0), e), default=lead)
