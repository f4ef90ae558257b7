"""The engines that are measured, by name.

Rule: each evening has engines of its own; those of one evening share one running core.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.plan import Railway

from .beside import Shadowed, Weighing
from .engine import Engine
from .plan_only import PlanOnly
from .toggle import Toggle

PRESENT, WEIGHING, TOGGLE, PLAN = "present engine", "weighing", "toggle tracker", "plan alone"
TRACKERS = (PRESENT, WEIGHING, TOGGLE)


def engines(railway: Railway, names: Sequence[str]) -> list[Engine]:
    """New engines for one evening, in the order of their names; `WEIGHING` only behind `PRESENT`, which drives it."""
    core = Shadowed(railway)
    made: dict[str, Engine] = {
        PRESENT: core,
        WEIGHING: Weighing(core),
        TOGGLE: Toggle(railway),
        PLAN: PlanOnly(railway),
    }
    return [made[name] for name in names]
