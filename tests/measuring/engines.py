"""The engines that are measured, by name.

Rule: each evening has engines of its own; those of one evening share one running core.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.plan import Railway

from .beside import Former, Shadowed
from .engine import Engine
from .plan_only import PlanOnly
from .toggle import Toggle

IN_FORCE, FORMER, TOGGLE, PLAN = "in force (weighing)", "former", "toggle tracker", "plan alone"
TRACKERS = (IN_FORCE, FORMER, TOGGLE)


def engines(railway: Railway, names: Sequence[str]) -> list[Engine]:
    """New engines for one evening, in the order of their names; `FORMER` only behind `IN_FORCE`, which drives it."""
    core = Shadowed(railway)
    made: dict[str, Engine] = {
        IN_FORCE: core,
        FORMER: Former(core),
        TOGGLE: Toggle(railway),
        PLAN: PlanOnly(railway),
    }
    return [made[name] for name in names]
