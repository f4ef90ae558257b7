"""When a fault happens: at some moment of the booked evening, a quiet or a bad one.

Rule: the moment is the seed's; who waits for a quiet place, or for one at which something runs, waits as long as it takes.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from bridge.virtual.hands import is_quiet
from bridge.virtual.scene import Scene
from bridge.virtual.subjects import stations_of

HELD_UP_S = 1.0  # who waits for a moment looks so often
SHORTEST_S = 600.0  # an evening without a timetable counts as so long


class Moments:
    """The moments of one evening."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene

    def at_some_moment(self, chance: Random, earliest: float, latest: float, do: Callable[[], None]) -> None:
        """Somewhere between two shares of the booked evening."""
        clock = self._scene.railway.plant.clock
        times = [t for w in self._scene.railway.workings.values() for c in w.calls for t in (c.arrive_s, c.depart_s) if t]
        span_s = max(SHORTEST_S, (max(times, default=0.0) - self._scene.script.begin_s) / max(clock, 1e-6))
        self._scene.timeline.after(chance.uniform(earliest, latest) * span_s, do)

    def once_quiet(self, places: set[str], do: Callable[[], bool]) -> None:
        """Do it as soon as nothing runs there and it can be."""
        scene = self._scene
        if not (is_quiet(scene.world, places, scene.now_s) and do()):
            scene.timeline.after(HELD_UP_S, lambda: self.once_quiet(places, do))

    def once_it_runs(self, board: str, do: Callable[[], None]) -> None:
        """At a bad moment: while something runs at the board's station."""
        scene, stations = self._scene, stations_of(self._scene.railway, board)
        near = {stretch for stretch in scene.world.on if stretch.partition(".")[0] in stations}
        if is_quiet(scene.world, near, scene.now_s):
            scene.timeline.after(HELD_UP_S, lambda: self.once_it_runs(board, do))
        else:
            do()
