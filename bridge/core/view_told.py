"""What operators have told, as the snapshot shows it: the words of late, and stations that are drawn otherwise.

Rule: as of the whole view.
"""

from __future__ import annotations

from typing import Any

from bridge.core.drawn import Drawn, in_order
from bridge.core.plan import Railway
from bridge.core.retold.told import Told, can_undo
from bridge.core.state import State


def drawn(railway: Railway, station: str, row: Drawn) -> dict[str, Any]:
    """A station that is not drawn by itself."""
    roads = list(in_order(row, railway.plant.stations[station].roads)) if row.roads else []
    return {"station": station, "right": row.right, "down": row.down, "roads": roads}


def told(state: State, row: Told) -> dict[str, Any]:
    """One word told."""
    back_n, back_who = row.back or (None, None)
    return {
        "n": row.n,
        "t": row.t,
        "clock": row.clock,
        "who": row.who,
        "words": row.words,
        "about": list(row.about),
        "answer": row.answer,
        "can_undo": can_undo(state, row),
        "undone_by": back_n,
        "undone_who": back_who,
    }
