"""Trains that have come out of a section short: what shows it, and when that may be said.

Rule: a train that still comes out is not short. What it might have left is judged a while after its last passing: while the
throat says occupied, or is not heard, it may stand across the section end, and has longer. A section that says occupied
tells of it only where nobody else can be meant; silence only of what has been known to speak. Of a train that may never have
gone into the section, and of which nothing was read where it comes out, nothing shows that it is short.
"""

from __future__ import annotations

import itertools
from typing import TYPE_CHECKING

from bridge.core.facts import Short
from bridge.core.line import line_clear
from bridge.core.plant import Boundary, Detector, DetectorKind
from bridge.core.presence import Presence
from bridge.core.readings import limit, stretch_state
from bridge.core.trains import Phase

if TYPE_CHECKING:
    from bridge.core.conditioning import Observation
    from bridge.core.state import State
    from bridge.core.whereabouts import Inference

ACROSS_S = 30.0  # so long at most a train is taken to stand across the section end: the contract's
SCARCELY = 0.02  # a train that may never have gone in, and whose engine is so unlikely there, is not what occupies a section
LEAST_READS = 5  # a reader is good that has read so many, and of late has missed no more than a weak one may


def passed(state: State, presence: Presence, seen: Observation) -> None:
    """Something of a train was seen at the end where it comes out, or will."""
    where = state.where
    assert where is not None
    presence.passed_t = seen.t
    vehicle = where.vehicle_of(seen.tag or "")
    if vehicle is not None and vehicle not in presence.read_far:
        presence.read_far = (*presence.read_far, vehicle)


def comes_out(state: State, presence: Presence, first: str) -> None:
    """A train's first vehicle has come out of its section: how the rest stands behind it."""
    railway = state.railway
    assert railway is not None
    behind = [v for v in _mine_inside(state, presence) if v != first]
    is_down = presence.out_at == railway.plant.sections[presence.section].to_throat
    presence.rake = (*(behind if is_down else behind[::-1]), first)


def proved(state: State, presence: Presence) -> None:
    """A train is proved complete: a tail treadle that has not told of its tail is not good until it tells of one."""
    for treadle in _tail_treadles(state, presence):
        if _is_silent(state, treadle, presence) and _has_tail(state, presence):
            state.good_tails.pop(treadle.id, None)


def look(state: State, presence: Presence) -> None:
    """Is a train that has come out short of something?"""
    if presence.short is not None or presence.cleared is not None or presence.told_clear:
        return
    if not presence.read_far and not line_clear.has_plainly_gone(state, presence):
        return
    since_t = due_t(state, presence)
    if since_t is None or state.t < since_t:
        return
    found = _left_behind(state, presence)
    if found is not None:
        presence.short = found
        state.touch("section", presence.section)


def due_t(state: State, presence: Presence) -> float | None:
    """When a train that has come out counts as short, where it does (host seconds); None while it has not."""
    last_t = _last_passing_t(presence)
    if last_t is None or presence.out_at is None:
        return None
    soon_t = last_t + limit(state, "divided_after", 10.0)
    across = stretch_state(state, presence.out_at) in ("occupied", "unknown")
    return round(max(soon_t, last_t + ACROSS_S) if across else soon_t, 6)


def is_open(presence: Presence) -> bool:
    """True where a train has been found to be short, and nothing has shown the section clear since."""
    return presence.short is not None and presence.cleared != "complete" and not presence.told_clear


def left_in(presence: Presence) -> tuple[str, ...]:
    """What a train that is short may have left in its section; where nobody can tell, its last vehicle."""
    assert presence.short is not None
    return presence.short.vehicles or presence.rake[:1]


def _last_passing_t(presence: Presence) -> float | None:
    times = [t for t in (presence.out_t_far, presence.passed_t) if t is not None]
    return max(times) if presence.out_t_far is not None else None


def _left_behind(state: State, presence: Presence) -> Short | None:
    """What shows that a train is short, the surest first; None where nothing does."""
    for shown in (_still_occupied, _tail_silent, _rear_unread):
        found = shown(state, presence)
        if found is not None:
            numbers = sorted({n for n in (presence.n, *found.evidence) if n is not None})
            return Short(
                f"divided:{presence.cause}", found.vehicles, found.detectors, found.boards, tuple(numbers), found.happened
            )
    return None


def _short(state: State, presence: Presence, vehicles: tuple[str, ...], detectors: tuple[Detector, ...]) -> Short:
    conditioning = state.conditioning
    assert conditioning is not None
    numbers = tuple(n for d in detectors if (n := conditioning.detectors[d.id].evidence) is not None)
    happened = _last_passing_t(presence) or state.t
    boards = tuple(sorted({d.board for d in detectors if state.gaps.get(d.board)}))
    return Short("", vehicles, tuple(d.id for d in detectors), boards, numbers, round(happened, 6))


def _still_occupied(state: State, presence: Presence) -> Short | None:
    """The section still says occupied, as it has done since the train came out, and nobody else can be meant."""
    railway, conditioning, where = state.railway, state.conditioning, state.where
    assert railway is not None and conditioning is not None and where is not None
    covering = railway.plant.covering.get(presence.section, ())
    rows = [(d, conditioning.detectors[d.id]) for d in covering]
    on = tuple(d for d, now in rows if now.state == "occupied" and now.lasts_t <= (presence.out_t_far or 0.0))
    others = any(p is not presence and _may_be_there(where, p) for p in state.presences.get(presence.section, ()))
    stood = any(where.leader(v) is None and where.since(v) < presence.out_t for v in where.line(presence.section))
    stray = state.astray.get(presence.section)
    stood = stood or (stray is not None and stray.t < presence.out_t)
    train = state.roster.trains[presence.train]
    again = train.phase is Phase.OUT and train.section == presence.section
    if not on or others or stood or again:
        return None
    return _short(state, presence, _mine_inside(state, presence), on)


def _may_be_there(where: Inference, presence: Presence) -> bool:
    """True for a train that has not come out, unless it may never have gone in and its engine is hardly believed there."""
    if presence.out_at is not None:
        return False
    return presence.departed or where.likely(presence.engine).get(presence.section, 0.0) >= SCARCELY


def _tail_silent(state: State, presence: Presence) -> Short | None:
    """A tail treadle that is known to be good has not told of the train's last vehicle."""
    treadles = tuple(
        d for d in _tail_treadles(state, presence) if _is_silent(state, d, presence) and _was_heard(state, d, presence)
    )
    if not treadles or not _has_tail(state, presence):
        return None
    return _short(state, presence, _mine_inside(state, presence), treadles)


def _is_silent(state: State, treadle: Detector, presence: Presence) -> bool:
    """True for a tail treadle that told of the last tail before this train came, and has told of none since."""
    return state.good_tails.get(treadle.id, presence.out_t_far or 0.0) < (presence.out_t_far or 0.0)


def _rear_unread(state: State, presence: Presence) -> Short | None:
    """Two or more of the last vehicles have passed no good reader, though the tags of all have been read before."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    end = _end(state, presence)
    readers = tuple(
        d
        for d in _at_end(state, presence)
        if d.kind is DetectorKind.READER and _is_good(state, d.id) and _was_heard(state, d, presence)
    )
    if end is None or not readers or presence.first != presence.engine or presence.engine not in presence.read_far:
        return None
    rear = tuple(itertools.takewhile(lambda v: v not in presence.read_far, presence.rake))
    if len(rear) < 2 or not all(v in state.read_by and where.place(v) == presence.section for v in rear):
        return None
    return _short(state, presence, rear, readers)


def _mine_inside(state: State, presence: Presence) -> tuple[str, ...]:
    where = state.where
    assert where is not None
    return tuple(v for v in where.line(presence.section) if where.leader(v) == presence.engine)


def _has_tail(state: State, presence: Presence) -> bool:
    """True where the train's last vehicle is believed to be one of which a tail treadle tells."""
    railway = state.railway
    assert railway is not None
    return presence.first == presence.engine and len(presence.rake) > 1 and railway.stock[presence.rake[0]].tail


def _tail_treadles(state: State, presence: Presence) -> tuple[Detector, ...]:
    return tuple(d for d in _at_end(state, presence) if d.kind is DetectorKind.TREADLE and d.sees == "tail")


def _at_end(state: State, presence: Presence) -> tuple[Detector, ...]:
    """The treadles and readers where a train has come out."""
    railway, end = state.railway, _end(state, presence)
    assert railway is not None
    return () if end is None else railway.plant.standing_at.get(end.id, ())


def _end(state: State, presence: Presence) -> Boundary | None:
    railway = state.railway
    assert railway is not None
    return next((b for b in railway.plant.at_stretch[presence.section] if b.throat == presence.out_at), None)


def _was_heard(state: State, detector: Detector, presence: Presence) -> bool:
    """True where a detector has been heard all the while that the train came out."""
    conditioning = state.conditioning
    assert conditioning is not None
    now = conditioning.detectors[detector.id]
    lost = detector.board in state.lost_boards or bool(state.gaps.get(detector.board))
    return now.state == "heard" and not lost and now.lasts_t <= (presence.out_t_far or 0.0)


def _is_good(state: State, reader: str) -> bool:
    """True for a reader that has read enough, and has missed little of late."""
    rows = state.passages.get(reader, [])
    read, missed = rows.count(0.0), sum(rows)
    return reader not in state.weak and read >= LEAST_READS and missed <= limit(state, "weak_share", 0.2) * (read + missed)
