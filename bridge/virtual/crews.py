"""Crews at work: each takes its next order when the last is done.

Rule: an order is done as told or not at all; one that cannot be done ends the evening with the line that gave it.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.virtual import orders as o
from bridge.virtual.lookout import Lookout
from bridge.virtual.running import Running
from bridge.virtual.scene import Scene, refused, tell
from bridge.virtual.world import BlockedError

WAITS_S = 1200.0  # a crew that has waited so long for a condition waits in vain


class Crews:
    """All crews of an evening. `say` hands on an operator's words, `fail` lets a board fail."""

    def __init__(
        self, scene: Scene, lookout: Lookout, *, say: Callable[[str], None], fail: Callable[[o.BoardFails], None]
    ) -> None:
        self._scene, self._lookout, self._say, self._fail = scene, lookout, say, fail
        self._running = Running(scene, lookout)
        self._busy: set[str] = set()
        self.done: Callable[[], None] = lambda: None  # called when nobody has anything left to do

    def begin(self, crews: list[o.Crew]) -> None:
        """Everybody starts."""
        scene = self._scene
        self._busy = {crew.name for crew in crews}
        for crew in crews:
            if crew.engine is not None:
                scene.truth.stands(crew.engine, scene.world.rake_of(crew.engine).ids)
            scene.timeline.after(0.1, lambda crew=crew: self._advance(crew))  # type: ignore[misc]

    def _advance(self, crew: o.Crew) -> None:
        while (told := crew.next_order()) is not None:
            order, where = told
            try:
                if not self._do(crew, order, where):
                    return
            except BlockedError as blocked:
                tell(crew, where, blocked)
        self._busy.discard(crew.name)
        if not self._busy:
            self.done()

    def _do(self, crew: o.Crew, order: o.Order, where: str) -> bool:
        """Do an order; whether it is done already. Otherwise the crew goes on when it is."""
        scene, then = self._scene, lambda: self._advance(crew)
        match order:
            case o.UntilClock(clock_s):
                return self._wait_for_clock(crew, clock_s)
            case o.Waits(seconds):
                scene.timeline.after(seconds, then)
                return False
            case o.WaitsUntil(condition):
                return self._lookout.holds(condition) or self._wait(crew, condition, where)
            case o.RunsTo() | o.DrawsClear() | o.RunsUntil() | o.Couples():
                self._running.run(crew, order, where, then)
                return False
            case o.Leaves():
                scene.timeline.after(scene.chance.uniform(1.5, 2.5), lambda: self._leave(crew, order, where))
                return False
            case _:
                self._do_at_once(crew, order)
                return True

    def _do_at_once(self, crew: o.Crew, order: o.Order) -> None:
        scene, engine = self._scene, crew.engine or ""
        match order:
            case o.Works(working):
                scene.workings[engine] = working
                scene.truth.stands(engine, scene.world.rake_of(engine).ids)
                scene.chronicle.coupled(scene.now_s)
            case o.Ends():
                ids = scene.world.rake_of(engine).ids
                scene.truth.leaves_off(scene.now_s, engine, scene.train_of(engine), ids)
                scene.workings.pop(engine, None)
                scene.chronicle.coupled(scene.now_s)
            case o.TakesToken(section, station):
                scene.tokens.take(section, station)
                scene.chronicle.token(scene.now_s, section, None, crew.engine)
            case o.LaysToken(section, station):
                scene.tokens.lay(section, station)
                scene.chronicle.token(scene.now_s, section, station, None)
                self._lookout.look()
            case o.Says(words):
                self._say(words)
            case o.Switches(detector, on):
                scene.inputs.switch(scene.railway.plant.detectors[detector], on)
            case o.BoardFails():
                self._fail(order)
            case o.Marks(name):
                self._lookout.mark(name)
            case o.CarriesTag(vehicle, tag):
                scene.world.swap_tags(vehicle, (tag,))
            case o.Expects(expectation):
                self._lookout.expect(expectation)

    def _wait(self, crew: o.Crew, condition: o.Condition, where: str) -> bool:
        def give_up() -> None:
            raise refused(where, crew, f"it has waited {WAITS_S:.0f} s in vain")

        self._lookout.wait(condition, lambda: self._advance(crew), WAITS_S, give_up)
        return False

    def _wait_for_clock(self, crew: o.Crew, clock_s: float) -> bool:
        scene = self._scene
        left_s = scene.clock.wait_s(clock_s, scene.now_s)
        if left_s <= 1e-6:
            return True

        def look() -> None:
            if self._wait_for_clock(crew, clock_s):
                self._advance(crew)

        scene.timeline.after(left_s if scene.clock.running else 0.5, look)
        return False

    def _leave(self, crew: o.Crew, order: o.Leaves, where: str) -> None:
        scene = self._scene
        key = scene.world.key_of(crew.engine or "")
        ids = scene.world.rakes[key].ids
        leave = set(order.vehicles)
        if order.all_but:
            leave = set(ids) - leave - {crew.engine or ""}
        missing = leave - set(ids)
        try:
            if missing:
                raise BlockedError(f"{' '.join(sorted(missing))} not coupled to it; coupled are {' '.join(ids)}")
            scene.world.uncouple(key, leave)
            scene.chronicle.coupled(scene.now_s)
        except BlockedError as blocked:
            tell(crew, where, blocked)
        else:
            for vehicle in sorted(leave):
                scene.truth.left(scene.now_s, vehicle, scene.world.places_of(vehicle)[0])
        self._advance(crew)
