"""From an order to a run: which way a rake goes, and how far.

Rule: a run has one direction. Of the two ways a rake can set off, the one with fewer stretches is taken; where neither
leads there without reversing, or the rake does not fit, that is told in plain words (`BlockedError`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from bridge.virtual.orders import Couples, DrawsClear, RunsTo, RunsUntil
from bridge.virtual.rake import Rake
from bridge.virtual.track import Leg, Track
from bridge.virtual.world import GAP_MM, BlockedError, World

CLEAR_MM = 30.0  # a rake drawn clear stands so far beyond the mouth of the road
PULLED_UP_MM = 60.0  # a train stands so far from the far end of a road it can leave there

RunOrder = RunsTo | DrawsClear | RunsUntil | Couples


@dataclass(frozen=True, slots=True)
class Planned:
    """A rake turned and given the way it needs, and the millimetres it runs towards greater x."""

    rake: Rake
    distance_mm: float
    way: tuple[str, ...]


def plan_run(world: World, key: int, order: RunOrder) -> Planned:
    """How a rake carries out an order; raises `BlockedError` where it cannot."""
    if isinstance(order, Couples):
        return _to_couple(world, key, order)
    rake = _on_the_way(world, world.rakes[key], order)
    if isinstance(order, RunsTo):
        distance_mm = _onto(world, key, rake, order)
    elif isinstance(order, DrawsClear):
        distance_mm = _until_clear(world, rake, order)
    else:
        distance_mm = _until_at(world, rake, order)
    return _checked(rake, distance_mm)


def _checked(rake: Rake, distance_mm: float) -> Planned:
    if distance_mm <= 0.0:
        raise BlockedError(f"{rake.ids[-1]} is already there, or beyond it")
    end = rake.legs[-1]
    if rake.high_mm + distance_mm > end.end_mm + 1e-6:
        raise BlockedError(f"{end.stretch} has only {end.length_mm:.0f} mm, too few for that")
    return Planned(rake, distance_mm, tuple(leg.stretch for leg in rake.legs))


def _on_the_way(world: World, rake: Rake, order: RunsTo | DrawsClear | RunsUntil) -> Rake:
    """The rake, turned where need be, with its way led on to the order's place (through the road `by`)."""
    place, by = order.place, None if isinstance(order, RunsUntil) else order.by
    led = (_led(world.track, one, by, place) for one in (rake, rake.about()))
    found = [one for one in led if one is not None and (not isinstance(order, DrawsClear) or _left_roads(world, one))]
    if not found:
        through = f" through {by}" if by else ""
        raise BlockedError(f"from {_where(rake)} no way leads to {place}{through} without reversing")
    return min(found, key=lambda one: len(one.legs))


def _where(rake: Rake) -> str:
    return " and ".join(dict.fromkeys(stretch for stretch, _, _ in rake.pieces()))


def _led(track: Track, rake: Rake, by: str | None, place: str) -> Rake | None:
    """The rake with its way, from the stretch its high end is on, leading to `place`; None where none does."""
    legs = [leg for leg in rake.legs if leg.x_mm < rake.high_mm - 1e-6]
    for target in (by, place):
        way = None if target is None else track.way(legs[-1].stretch, legs[-1].ahead, target)
        if target is not None and way is None:
            return None
        for stretch, ahead in (way or ())[1:]:
            legs.append(Leg(stretch, ahead, legs[-1].end_mm, track.length_mm(stretch)))
    return replace(rake, legs=tuple(legs))


def _onto(world: World, key: int, rake: Rake, order: RunsTo) -> float:
    leg = rake.legs[-1]
    if order.into_mm is not None:
        return leg.x_mm + order.into_mm - rake.high_mm
    limit_mm = leg.end_mm - (GAP_MM if world.track.is_dead_end(leg.stretch, int(leg.ahead)) else PULLED_UP_MM)
    in_front = ""
    for low_mm, high_mm, other in world.others_on(leg.stretch, key):
        nearest_mm = leg.x_mm + low_mm if leg.ahead else leg.end_mm - high_mm
        if rake.high_mm - 1e-6 < nearest_mm < limit_mm + GAP_MM:
            limit_mm, in_front = nearest_mm - GAP_MM, world.rakes[other].ids[0]
    if limit_mm - rake.length_mm < leg.x_mm and order.place in world.railway.plant.roads:
        room_mm = leg.length_mm - rake.length_mm
        if room_mm < 0 or in_front:
            why = f", where {in_front} stands" if in_front else ""
            raise BlockedError(f"{rake.length_mm:.0f} mm of train do not fit on {order.place}{why}", by=in_front)
        limit_mm = leg.end_mm - room_mm / 2
    return limit_mm - rake.high_mm


def _left_roads(world: World, rake: Rake) -> list[Leg]:
    """The roads that a rake comes out of on its way."""
    return [leg for leg in rake.legs[:-1] if leg.stretch in world.railway.plant.roads]


def _until_clear(world: World, rake: Rake, order: DrawsClear) -> float:
    distance_mm = _left_roads(world, rake)[-1].end_mm + CLEAR_MM - rake.low_mm
    short_mm = rake.high_mm + distance_mm - rake.legs[-1].end_mm
    if short_mm > 0:
        raise BlockedError(f"{order.place} is {short_mm:.0f} mm too short for {rake.length_mm:.0f} mm of train")
    return distance_mm


def _until_at(world: World, rake: Rake, order: RunsUntil) -> float:
    middle_mm = next(((low + high) / 2 for v, low, high in rake.spans if v.id == order.vehicle), None)
    if middle_mm is None:
        raise BlockedError(f"{order.vehicle} is not coupled to it")
    for one, following in zip(rake.legs, rake.legs[1:], strict=False):
        if world.track.boundary_of(one, following).id == order.boundary and one.end_mm > middle_mm:
            return one.end_mm - middle_mm
    raise BlockedError(f"the way to {order.place} does not bring {order.vehicle} to {order.boundary}")


def _to_couple(world: World, key: int, order: Couples) -> Planned:
    other_key = world.key_of(order.vehicle)
    if other_key == key:
        raise BlockedError(f"{order.vehicle} is coupled to it already")
    other = world.rakes[other_key]
    if other_key in world.runs:
        raise BlockedError(f"{order.vehicle} is running", passing=True, by=order.vehicle)
    found: list[tuple[int, float, Rake]] = []
    for one in (world.rakes[key], world.rakes[key].about()):
        for stretch in dict.fromkeys(stretch for stretch, _, _ in other.pieces()):
            led = _led(world.track, one, order.by, stretch)
            if led is None:
                continue
            theirs = led.joined_to(other)
            is_ahead = theirs.low_mm >= led.high_mm - 1e-3
            if is_ahead and theirs.low_mm >= led.legs[-1].x_mm - 1e-3:  # else it hangs into this stretch from another road
                found.append((len(led.legs), theirs.low_mm - led.high_mm, led))
    if not found:
        raise BlockedError(f"no way leads to {order.vehicle} without reversing")
    _, distance_mm, rake = min(found, key=lambda row: row[:2])
    first = rake.joined_to(other).ids[0]
    if first != order.vehicle:
        raise BlockedError(f"it comes upon {first} first, not {order.vehicle}")
    return Planned(rake, max(distance_mm, 0.0), tuple(leg.stretch for leg in rake.legs))
