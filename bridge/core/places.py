"""Saying where a vehicle is, when that is news.

Rule: said when place, train, order or the wording of `sure` changes, once an event is digested.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.wagons.moves import LIKELY, PLAIN

if TYPE_CHECKING:
    from bridge.core.state import State


def wording(sure: float) -> str:
    """How a thing of this certainty is worded."""
    return "plain" if sure >= PLAIN else "probably" if sure >= LIKELY else "unseen"


def train_of(state: State, vehicle: str) -> str | None:
    """The train a vehicle is in: the one that its engine is working."""
    where = state.where
    assert where is not None
    engine = where.leader(vehicle)
    if engine is None:
        return None
    train = state.roster.current(engine)
    return None if train is None else train.id


def say_place(state: State, vehicle: str, always: bool = False) -> None:
    """Say where a vehicle is, if anything about it has changed (or `always`)."""
    where = state.where
    assert where is not None
    belief = where.belief(vehicle)
    train = train_of(state, vehicle)
    news = (belief.place, belief.order, train, belief.fouls, wording(belief.sure))
    if not always and state.said_where.get(vehicle) == news:
        return
    state.said_where[vehicle] = news
    keys = {
        "vehicle": vehicle,
        "place": belief.place,
        "order": belief.order,
        "fouls": list(belief.fouls),
        "train": train,
        "sure": belief.sure,
        "by": belief.by,
    }
    state.ledger.say("whereabouts", keys, belief.evidence)
