"""Who waits for what, and which expectations have come true: looked at whenever something has changed.

Rule: a condition speaks of where things are, never of what was said about them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bridge.virtual.orders import Condition, Expectation
from bridge.virtual.scene import Scene
from bridge.virtual.truth import Watched

NOTICED_S = 0.2  # a crew acts so long after it sees what it waited for


@dataclass(frozen=True, slots=True)
class _Waiting:
    condition: Condition
    go_on: Callable[[], None]


class Lookout:
    """Conditions waited for and expectations watched for."""

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._waiting: list[_Waiting] = []
        self._marks: set[str] = set()

    def holds(self, condition: Condition) -> bool:
        """Whether a condition is so now."""
        on = self._scene.world.on
        match condition.what:
            case "always":
                return True
            case "in":
                return condition.one in on[condition.place]
            case "off":
                return condition.one not in on[condition.place]
            case "within":
                return [s for s in on if condition.one in on[s]] == [condition.place]
            case "clear":
                return not on[condition.place]
            case "token":
                return self._scene.tokens.lies_at(condition.place) == condition.one
            case "read":
                return self._scene.inputs.reads.get(condition.one, 0) >= condition.count
            case _:
                return condition.one in self._marks

    def wait(self, condition: Condition, go_on: Callable[[], None], give_up_s: float, give_up: Callable[[], None]) -> None:
        """Call `go_on` once the condition is so; `give_up` when it is not within so many seconds."""
        waiting = _Waiting(condition, go_on)
        self._waiting.append(waiting)
        self._scene.timeline.after(give_up_s, lambda: give_up() if waiting in self._waiting else None)

    def mark(self, name: str) -> None:
        """Something that others may wait for has happened."""
        self._marks.add(name)
        self._scene.timeline.after(0.0, self.look)

    def expect(self, expectation: Expectation) -> None:
        """Watch for an expectation from now on."""
        watched = Watched(expectation)
        self._scene.truth.watched.append(watched)
        self._judge(watched)

    def look(self) -> None:
        """Something has changed: who waited for it goes on."""
        for waiting in [w for w in self._waiting if self.holds(w.condition)]:
            self._waiting.remove(waiting)
            self._scene.timeline.after(NOTICED_S, waiting.go_on)
        for watched in self._scene.truth.watched:
            self._judge(watched)

    def _judge(self, watched: Watched) -> None:
        shows, due, now_s = watched.expectation.shows, watched.expectation.due, self._scene.now_s
        if watched.shown_s is None and self.holds(shows.condition):
            watched.shown_s = now_s + shows.after_s
            watched.by = self._by(shows.condition)
        past, soon = watched.expectation.past, watched.due_s is None or now_s < watched.due_s
        if past is not None and soon and self.holds(past):
            watched.is_past, watched.due_s = True, None
        if watched.shown_s is not None and watched.due_s is None and not watched.is_past and self.holds(due.condition):
            watched.due_s = max(now_s, watched.shown_s + watched.expectation.stands_s) + due.after_s

    def _by(self, condition: Condition) -> tuple[str, ...]:
        """The detectors that have told of a condition."""
        if condition.what == "read":
            return (self._scene.inputs.read_at[condition.one],)
        return self._scene.chronicle.watchers(condition)
