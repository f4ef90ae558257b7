"""How a crew goes about its work: what makes a careful crew differ from a hasty or a forgetful one.

Rule: a manner changes how and how fast a thing is done, never what is right: a crew of any manner works to the plan. What
it gets wrong is a `Mishap` (`mishap.py`).

The figures are common practice on layouts as far as a club night shows it, no source; speeds are those of the prototype.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random


@dataclass(frozen=True, slots=True)
class Manner:
    """Named parameters of a crew. Speeds in km/h of the prototype, the rest in the unit of its name."""

    name: str
    think_s: tuple[float, float]  # before it does the next thing: from, to
    dreams_share: float  # of what it does, before which it dreams so much longer:
    dreams_s: float
    passenger_km_h: float
    goods_km_h: float
    shunting_km_h: float
    short_of_buffers_mm: float  # how far from the buffers it leaves what it sets out in an empty siding
    patience_min: float  # session minutes for which it waits to go on while nothing at all stirs
    shunts_later_min: float  # and for which it waits to shunt
    wrong_road_after_min: float  # session minutes after which another road than the booked one will do
    van_last: bool  # it takes the trouble to have the brake van at the rear
    plans_ahead: bool  # it draws everything out in one go where that saves a movement


CAREFUL = Manner("careful", (0.8, 2.0), 0.0, 0.0, 65.0, 42.0, 20.0, 15.0, 60.0, 20.0, 30.0, van_last=True, plans_ahead=True)
HASTY = Manner("hasty", (0.1, 0.6), 0.0, 0.0, 80.0, 52.0, 28.0, 90.0, 40.0, 12.0, 15.0, van_last=False, plans_ahead=True)
FORGETFUL = Manner(
    "forgetful", (0.6, 2.2), 0.12, 9.0, 65.0, 45.0, 22.0, 40.0, 60.0, 20.0, 30.0, van_last=False, plans_ahead=False
)
MANNERS = (CAREFUL, HASTY, FORGETFUL)


def manner_of(engine: str, seed: int) -> Manner:
    """The manner of the crew of an engine on this evening."""
    return Random(f"manner {engine} {seed}").choice(MANNERS)
