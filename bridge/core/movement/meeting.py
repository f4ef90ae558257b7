"""Whom a train meets in a section that it enters: other trains, those that may be there, and vehicles of none.

Rule: who is there is there plainly; who may have gone in, or may have come out where nothing would tell, only may be.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.line import divided, inside, line_clear, unexplained
from bridge.core.line.behind import still_inside
from bridge.core.plant import Section
from bridge.core.trains import Train
from bridge.core.wagons.moves import PLAIN

if TYPE_CHECKING:
    from bridge.core.state import State

LONG_S = 30.0  # a vehicle must have been believed in a section so long before it counts as left there


def met(
    state: State, section: Section, train: Train, throat: str
) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
    """Other trains that are in a section as a train enters it, those that may be, and vehicles of none."""
    where = state.where
    assert where is not None
    others: list[str] = []
    maybe: list[str] = []
    left: list[str] = []
    own: list[str] = []
    sure_clear = "clear" in line_clear.detector_states(state, section)
    for presence in state.presences.get(section.id, ()):
        if divided.is_open(presence):
            (own if presence.engine == train.engine else left).extend(divided.left_in(presence))
            continue
        if presence.train == train.id or presence.told_clear:
            continue
        if presence.out_at == throat:
            continue
        helped = state.authorities.grants.get(section.id, {})
        if any(g.how == "assisting" for t, g in helped.items() if t in (train.id, presence.train)):
            continue
        if presence.out_at is not None and (sure_clear or not still_inside(state, presence)):
            continue
        (others if inside.is_plainly_in(state, presence) else maybe).append(presence.train)
    stray = state.astray.get(section.id)
    if stray is not None:
        left += unexplained.vehicles(state, stray) or (stray.detector,)
    if others:
        others, maybe = [*others, *maybe], []  # stopped it must be: who may be there as well is named with them
    return tuple(others), tuple(maybe), tuple(v for v in dict.fromkeys((*left, *_stranded(state, section))) if v not in own)


def _stranded(state: State, section: Section) -> list[str]:
    """Vehicles that have long stood in a section without an engine."""
    where = state.where
    assert where is not None
    alone = [v for v in where.line(section.id) if where.leader(v) is None and where.since(v) < state.t - LONG_S]
    return [v for v in alone if where.belief(v).sure >= PLAIN]
