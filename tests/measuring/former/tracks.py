"""Track detectors: what no reader tells, from stretches that become occupied or clear.

Rule: a stretch that becomes occupied has been come on to by the likeliest that could; one that becomes clear has been
left by all who work track detectors, and never without an engine. One flicker moves nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.conditioning import Observation
from bridge.core.plant import Boundary
from bridge.core.whereabouts import OFF, Prior

from . import hints
from .choosing import choose_goal, choose_mover, is_doubtful
from .leaving import forsake, is_through
from .picture import SETTLE_S, Picture
from .reading import engine_for

STEADY_S = 0.5  # a stretch must stay occupied so long to tell by itself that something came on to it (`occupied_for`)
READ_S = 2.5  # a vehicle that comes on to a road is read at its mouth within this, or was missed
TOLD_S = 3.0  # a treadle passed so shortly before a stretch became occupied tells by which end
DOUBT_S = 1.5  # where two engines could have gone out, a reader is given so long to tell which


def occupied(picture: Picture, stretch: str, seen: Observation, prior: Prior) -> None:
    """A stretch has become occupied."""
    mouths = picture.plant.at_stretch[stretch]
    if seen.moves:  # how an input stands, as boards state at a start, is no movement
        for throat in [stretch] if stretch in picture.plant.throats else [b.throat for b in mouths]:
            picture.stir(throat, seen.t)
    picture.deadlines.drop("left", stretch)
    if stretch in picture.plant.throats or picture.line(stretch):
        return
    if not seen.moves:
        if stretch in picture.waiting:  # a report said so before what was observed went stale
            picture.deadlines.set("wait", stretch, seen.t + STEADY_S)
        return
    busy = [b for b in mouths if prior.stretch_state(b.throat) == "occupied"]
    wait_s = 0.0 if busy else STEADY_S
    if stretch in picture.plant.roads and any(picture.plant.read_at(b.id) for b in mouths):
        wait_s = READ_S
    elif any(picture.plant.read_at(b.id) for b in busy) and is_doubtful(picture, stretch, prior, seen.t):
        wait_s = DOUBT_S
    if wait_s:
        picture.waiting[stretch] = seen.n
        picture.deadlines.set("wait", stretch, seen.t + wait_s)
    else:
        come_on(picture, stretch, seen.t, seen.n, prior)


def come_on(picture: Picture, stretch: str, t: float, n: int | None, prior: Prior) -> None:
    """Something has come on to a stretch that was believed empty: the likeliest that could."""
    if picture.line(stretch):
        return
    ends = picture.plant.at_stretch[stretch]
    told = [b for b in ends if t - picture.heard_at(b.id) < TOLD_S]  # where a treadle has just told by which end
    mover = choose_mover(picture, stretch, told or ends, prior, t)
    if mover is None:
        return
    picture.take_for(mover.vehicle, mover.way, t, n, "order", "track")
    engine = picture.leader(mover.vehicle)
    if engine is not None:
        forsake(picture, engine, t, n, prior)


def cleared(picture: Picture, stretch: str, t: float, n: int | None, prior: Prior) -> None:
    """A stretch has become clear: what was believed there has gone."""
    picture.waiting.pop(stretch, None)
    if stretch in picture.plant.throats:
        _follow_in(picture, stretch, t, n)
        empty_throat(picture, stretch, t, n, prior, "order")
        return
    left = [v for v in picture.line(stretch) if picture.stock[v].detected]
    boundary = _way_out(picture, stretch, left, prior) if left else None
    if boundary is None:
        return
    _draw_with_engine(picture, boundary, left, t, n, prior)
    furthest = left[-1] if boundary.end == 0 else left[0]
    for each in [*picture.lines.ahead(furthest, boundary.end), furthest]:
        picture.cross(each, boundary, False, t, n, "order", "track")
        if picture.leader(each) is None:
            engine = engine_for(picture, each, stretch, boundary.throat, prior)
            if engine is not None:
                picture.join(each, engine, stretch, t, n)
    if prior.stretch_state(boundary.throat) == "clear":
        empty_throat(picture, boundary.throat, t, n, prior, "order")
    else:
        picture.stir(boundary.throat, t)


def _way_out(picture: Picture, stretch: str, left: Sequence[str], prior: Prior) -> Boundary | None:
    """By which boundary the last of a stretch went: after its engine, by the busy throat, towards where it is booked."""
    options = picture.plant.at_stretch[stretch]
    engine = picture.leader(left[0]) or picture.leader(left[-1])
    gone = picture.place(engine) if engine is not None else OFF
    way = picture.lines.path(stretch, gone) if gone not in (OFF, stretch) else []
    booked = picture.plant.sections.get(prior.next_section(engine) or "") if engine is not None else None
    newest = max((picture.stirred.get(b.throat, -1e9) for b in options), default=0.0)

    def score(boundary: Boundary) -> tuple[float, str]:
        value = 3.0 if way and way[0].id == boundary.id else 0.0
        value += 2.0 if prior.stretch_state(boundary.throat) == "occupied" else 0.0
        value += 1.0 if picture.stirred.get(boundary.throat, -2e9) >= newest else 0.0
        value += 1.0 if picture.lines.outermost(stretch, boundary.end) in picture.engines else 0.0
        value += 1.0 if booked is not None and boundary.throat in (booked.from_throat, booked.to_throat) else 0.0
        return value, boundary.id

    return max(options, key=score, default=None)


def _follow_in(picture: Picture, throat: str, t: float, n: int | None) -> None:
    """A throat is clear behind an engine that came in by it: what no reader could tell of has come in with it."""
    station = picture.plant.throats[throat].station
    for boundary in picture.plant.at_stretch[throat]:
        if boundary.outer not in picture.plant.sections:
            continue
        row = list(picture.line(boundary.outer))
        for engine in sorted({picture.leads[v] for v in row if v in picture.leads}):
            mine = [v for v in row if picture.leads.get(v) == engine]
            came_in = picture.plant.station_of(picture.place(engine)) == station
            if came_in and (not picture.plant.read_at(boundary.id) or len(mine) <= 1):
                for vehicle in mine if boundary.end == 0 else mine[::-1]:
                    picture.cross(vehicle, boundary, False, t, n, "carried", "track")


def _draw_with_engine(
    picture: Picture, boundary: Boundary, left: Sequence[str], t: float, n: int | None, prior: Prior
) -> None:
    """Nothing moves by itself: where a road empties and no engine is believed there, the one beside it had come for it."""
    if picture.engines_on(boundary.outer, boundary.throat):
        return
    if any(picture.place(picture.leader(v) or v) in picture.plant.sections for v in left):
        return  # its engine went ahead of it
    best: tuple[float, str, Boundary] | None = None
    for other in picture.plant.at_stretch[boundary.throat]:
        lead = picture.lines.outermost(other.outer, other.end)
        if other.outer == boundary.outer or lead is None or lead not in picture.engines:
            continue
        value = 2.0 if any(picture.leads.get(v) == lead for v in left) else 0.0
        value += 1.0 if prior.awake(lead) else -1.0
        value += 1.0 if t - picture.stirred.get(lead, -1e9) < 60.0 else 0.0
        if value > 0 and (best is None or (value, lead) > best[:2]):
            best = (value, lead, other)
    if best is not None:
        picture.cross(best[1], best[2], False, t, n, "order", "track")


def empty_throat(picture: Picture, throat: str, t: float, n: int | None, prior: Prior, by: str) -> None:
    """Nothing stands in a throat any more: what was believed there is put where it can have gone, one train at a time."""
    for _ in range(6):
        row = [v for v in picture.line(throat) if picture.stock[v].detected or by == "carried"]
        goal = choose_goal(picture, throat, row, prior, by == "order") if row else None
        if goal is None:
            return
        group = row if goal.throat_end == 0 else row[::-1]
        last = group[0]
        for each in group:
            if picture.leader(each) != picture.leader(group[0]):
                break
            last = each
        for each in [*picture.lines.ahead(last, goal.throat_end), last]:
            picture.cross(each, goal, True, t, n, by, "track")
        for engine in [e for e in group if e in picture.engines]:
            forsake(picture, engine, t, n, prior)


def look_again(picture: Picture, kind: str, subject: str, t: float, prior: Prior) -> None:
    """A moment set by an earlier observation has come."""
    if kind == "wait":
        if prior.stretch_state(subject) == "unknown":
            return  # until it is stated
        n = picture.waiting.pop(subject, None)
        if hints.steady(prior, subject):
            come_on(picture, subject, t, n, prior)
    elif kind == "settle":
        if _is_quiet(picture, subject, t, prior):
            empty_throat(picture, subject, t, None, prior, "carried")
        elif picture.line(subject):
            picture.deadlines.set("settle", subject, t + SETTLE_S)
    elif kind == "loose":
        _set_down(picture, subject, t, prior)
    elif kind == "left":
        _left_something(picture, subject, t, prior)


def _is_quiet(picture: Picture, throat: str, t: float, prior: Prior) -> bool:
    """True where nothing can stand in a throat any more: its detector is clear or wanting, no engine is there, more of its
    train stands beside it, or it has been quiet so long that what still occupies it must be something that fouls it."""
    if prior.stretch_state(throat) != "occupied" or not picture.engines_on(throat):
        return True
    leads = {picture.leader(v) for v in picture.line(throat)} - {None}
    roads = {b.outer for b in picture.plant.at_stretch[throat] if is_through(picture.plant, b.outer)}
    beside = len(leads) == 1 and any(picture.place(v) in roads for v in picture.company(leads.pop() or ""))
    return beside or t >= picture.stirred.get(throat, t) + 2 * SETTLE_S - 0.001


def _set_down(picture: Picture, throat: str, t: float, prior: Prior) -> None:
    """An engine has gone from a throat on to a road, and this did not follow: it was set down on the way."""
    row = picture.line(throat)
    if not row or picture.engines_on(throat):
        return
    if all(picture.place(picture.leads.get(v, v)) in picture.plant.roads for v in row):
        empty_throat(picture, throat, t, None, prior, "order")


def _left_something(picture: Picture, road: str, t: float, prior: Prior) -> None:
    """A road still says occupied although all that was believed there has gone: the engine left something there."""
    engine, origin = picture.left_by.pop(road)
    if prior.stretch_state(road) != "occupied" or picture.line(road):
        return
    mine = [v for v in picture.company(engine)[1:] if picture.place(v) == origin]
    way = picture.lines.path(origin, road) if mine else []
    if not way:
        return
    outermost = picture.lines.outermost(origin, way[0].end if way[0].outer == origin else way[0].throat_end)
    if outermost in mine and outermost is not None and len(way) <= 2:
        picture.haul(outermost, way, t, None, "order", "guess")
