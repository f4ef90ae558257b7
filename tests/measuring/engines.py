"""The engines that are measured, by name.

Rule: each evening has engines of its own; those of one evening share one running core.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.plan import Railway

from .beside import Former, Shadowed
from .engine import Engine, WholeCore
from .plan_only import PlanOnly
from .toggle import Toggle

IN_FORCE, FORMER, TOGGLE, PLAN = "in force (weighing)", "former", "toggle tracker", "plan alone"
TRACKERS = (IN_FORCE, FORMER, TOGGLE)


def engines(railway: Railway, names: Sequence[str]) -> list[Engine]:
    """New engines for one evening, in the order of their names; `FORMER` only behind `IN_FORCE`, which drives it. Without it
    what each read costs is not measured."""
    made: dict[str, Engine] = {TOGGLE: Toggle(railway), PLAN: PlanOnly(railway)}
    if FORMER in names:
        core = Shadowed(railway)
        made |= {IN_FORCE: core, FORMER: Former(core)}
    elif IN_FORCE in names:
        made[IN_FORCE] = WholeCore(railway)
    return [made[name] for name in names]
