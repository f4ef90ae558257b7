"""The engine to the other end of its train, through a road that is empty and open at both ends.

Rule: nothing is begun before both throats and the road are its own. Where no road is free for it, that is told, and the
crew does without.
"""

from __future__ import annotations

from bridge.core.plant import Throat
from bridge.virtual import orders as o
from bridge.virtual.crew import authority
from bridge.virtual.crew.ground import OTHER, Neck
from bridge.virtual.crew.post import Doing, Post
from bridge.virtual.crew.shunting import stand_clear
from bridge.virtual.crew.stacks import CannotError

KEEPS_CLEAR_S = 360.0  # so long before a train is due, session seconds, nobody shunts out into its section


def way_round(post: Post, road: str) -> tuple[str, Neck, Neck] | None:
    """The road to run round by, and the necks at the up and down end; None where there is no way as things stand."""
    plant, station = post.ground.plant, road.partition(".")[0]
    if len(plant.roads[road].open) < 2:
        return None
    engine_mm = post.length_mm((post.engine,))
    for by in post.ground.through_roads(station):
        if by == road or post.ground.line(by) or not post.book.is_free(by, post.engine):
            continue
        necks = [pick_neck(post, plant.throats[f"{station}.{end}"], (road, by), engine_mm) for end in ("up", "down")]
        if necks[0] is not None and necks[1] is not None:
            return by, necks[0], necks[1]
    return None


def could_ever(post: Post, road: str) -> bool:
    """Whether there is a road to run round by at all, be it taken now."""
    plant, station = post.ground.plant, road.partition(".")[0]
    return len(plant.roads[road].open) > 1 and any(by != road for by in post.ground.through_roads(station))


def pick_neck(post: Post, throat: Throat, roads: tuple[str, ...], length_mm: float) -> Neck | None:
    """The first neck at a throat that is long enough and can be had here."""
    for neck in post.ground.necks(throat.id, roads):
        if neck.room_mm >= length_mm and (neck.section is None or can_have(post, neck.section, throat.station)):
            return neck
    return None


def can_have(post: Post, section: str, station: str) -> bool:
    """Whether a section can serve as a neck: empty, nobody's, its token here, and no train due in it."""
    if post.world.on[section] or not post.book.is_free(section, post.engine):
        return False
    if post.book.is_due(section, post.name, KEEPS_CLEAR_S):
        return False
    return not authority.why_not(post, section, station)


def holding(post: Post, neck: Neck) -> Doing[str]:
    """Take what a neck in a section asks for; how it was taken."""
    if neck.section is None:
        return ""
    return (yield from authority.take(post, neck.section, neck.throat.partition(".")[0], None))


def giving_back(post: Post, neck: Neck, how: str) -> Doing[None]:
    """The neck is no longer needed."""
    if neck.section is not None:
        yield from authority.give_up(post, neck.section, neck.throat.partition(".")[0], how)


def run_round(post: Post) -> Doing[None]:
    """Take the engine to the other end of its train. Raises `CannotError` where there is no way."""
    road = post.road()
    end = post.ground.end_of_engine(post.engine, road)
    if end is None:
        return
    while True:
        found = way_round(post, road)
        if found is not None:
            by, *necks = found
            things = {road, by, *(neck.throat for neck in necks), *(neck.section for neck in necks if neck.section)}
            if post.book.claim(post.engine, things):
                break
        elif not _may_come_free(post, road):
            raise CannotError(_why_never(post, road))
        why = f"no road at {road.partition('.')[0]} is free for running round"
        yield from post.waits(why, post.manner.shunts_later_min)
    first, second = necks if end == "up" else necks[::-1]
    try:
        yield from _round(post, by, first, second, OTHER[end])
    finally:
        post.keeps_only(road)


def _why_never(post: Post, road: str) -> str:
    if len(post.ground.plant.roads[road].open) < 2:
        return f"{post.engine} cannot run round its train on {road}, which is a dead end"
    station, engine_mm = road.partition(".")[0], post.length_mm((post.engine,))
    for end in ("up", "down"):
        throat = f"{station}.{end}"
        rooms_mm = [neck.room_mm for neck in post.ground.necks(throat, (road,)) if may_have(post, neck)]
        if max(rooms_mm, default=0.0) < engine_mm:
            room = f"{throat} has room for {max(rooms_mm, default=0.0):.0f} mm"
            return f"{post.engine} of {engine_mm:.0f} mm cannot run round its train on {road}: {room}"
    return f"{post.engine} cannot run round its train on {road}: no other road is free at both ends"


def _may_come_free(post: Post, road: str) -> bool:
    """Whether what is missing for running round is only held by others, who will go."""
    plant, station = post.ground.plant, road.partition(".")[0]
    roads = [by for by in post.ground.through_roads(station) if by != road]
    if len(plant.roads[road].open) < 2:
        return False
    engine_mm = post.length_mm((post.engine,))
    for end in ("up", "down"):
        necks = post.ground.necks(f"{station}.{end}", (road,))
        if not any(neck.room_mm >= engine_mm and may_have(post, neck) for neck in necks):
            return False
    return any(all(post.goes_soon(spot.vehicle) for spot in post.ground.line(by)) for by in roads)


def may_have(post: Post, neck: Neck) -> bool:
    """Whether a neck can be had here, now or once others have gone on."""
    return neck.section is None or all(post.goes_soon(vehicle) for vehicle in post.world.on[neck.section])


def _round(post: Post, by: str, first: Neck, second: Neck, end: str) -> Doing[None]:
    speed, road = post.shunting_mm_s(), post.road()
    how_out, how_in = (yield from holding(post, first)), (yield from holding(post, second))
    yield from post.must(o.Leaves(post.train))
    yield from post.must(o.DrawsClear(first.place, None, speed))
    yield from post.must(o.DrawsClear(second.place, by, speed))
    yield from post.must(o.Couples(post.ground.stack(road, end)[0], None, speed))
    yield from stand_clear(post)
    yield from giving_back(post, first, how_out)
    yield from giving_back(post, second, how_in)
