"""All crews of an evening worked by the plan, and the signalman who closes it.

Rule: every engine of a working has a crew of its own, whose manner the seed chooses. When all have gone home the signalman
writes down what was not done and ends the session.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from random import Random

from bridge.core.plan import Railway
from bridge.virtual import orders as o
from bridge.virtual.crew.at_work import PlannedCrew
from bridge.virtual.crew.book import Book
from bridge.virtual.crew.ground import Ground
from bridge.virtual.crew.lists import Lists, first_time_s, in_order
from bridge.virtual.crew.manner import Manner, manner_of
from bridge.virtual.crew.mishap import Mishap
from bridge.virtual.crew.post import Doing, Post
from bridge.virtual.scene import Scene

LEAD_S = 300.0  # the session begins so much of its clock before the first train, on a whole five minutes
UNTIMED_S = 19 * 3600.0  # and then where no train has a time
LOOKS_S = 5.0


def begin_s(railway: Railway) -> float:
    """When the session of a plan begins, seconds of its clock."""
    times = [time for working in railway.workings.values() if (time := first_time_s(working)) is not None]
    return max((min(times) - 1.0) // LEAD_S * LEAD_S, 0.0) if times else UNTIMED_S


class Signalman:
    """Waits until every crew has gone home, and ends the session."""

    name = "signalman"
    engine: str | None = None

    def __init__(self, book: Book) -> None:
        self._work = _signalman(book)

    def next_order(self) -> tuple[o.Order, str] | None:
        """Wait, and then the last word."""
        order = next(self._work, None)
        return None if order is None else (order, "signalman")


def _signalman(book: Book) -> Doing[None]:
    while book.at_work:
        yield o.Waits(LOOKS_S)
    write_up(book)
    yield o.Waits(LOOKS_S)
    yield o.Says("end")


def write_up(book: Book) -> None:
    """Every booked move that was not done, with the reason."""
    of_working = {reason.working: reason.text for reason in book.reasons if reason.vehicle is None}
    for move in book.lists.undone():
        working = book.lists.working_of.get(move.index)
        text = book.lists.why.get(move.index) or _why_not_tried(book, move.index, working, of_working)
        book.lists.why[move.index] = text
        book.reason(working, move.vehicle, f"not brought from {move.from_road} to {move.to_road}: {text}")


def _why_not_tried(book: Book, index: int, working: str | None, of_working: Mapping[str | None, str]) -> str:
    move = book.scene.railway.moves[index]
    if working is None:
        return "no working calls at both stations, one after the other"
    if book.lists.open_row(move.vehicle) is not move:
        return "the move booked before it was not done"
    if working in of_working:
        return f"{working} was not worked to the end"
    where = book.ground.road_of(move.vehicle)
    if where != move.from_road:
        return f"it was on {where or 'no road'} when {working} came"
    return f"{working} had no call at which it could be done"


def company(
    scene: Scene,
    seed: int,
    *,
    manner: Callable[[str, int], Manner] = manner_of,
    mishaps: Callable[[Book], Mapping[str, Mishap]] = lambda book: {},
) -> tuple[list[o.Crew], Book]:
    """The crews of an evening and their book. `mishaps`: who goes wrong how, by engine."""
    railway = scene.railway
    ground, lists = Ground(scene.world, lambda: scene.now_s), Lists(railway)
    book = Book(scene, ground, lists)
    goes_wrong = mishaps(book)
    crews: list[o.Crew] = []
    standing = {row.vehicle for row in railway.standing if row.place in scene.world.on}
    for engine in dict.fromkeys(working.engine for working in in_order(railway)):
        workings = [working for working in in_order(railway) if working.engine == engine and working.calls]
        if engine not in standing:
            for working in workings:
                book.reason(working.id, None, f"its engine {engine} stands nowhere")
                book.ended.add(working.id)
            continue
        mishap = goes_wrong.get(engine) or Mishap()
        chance = Random(f"crew {engine} {seed}")
        post = Post(engine, scene, ground, book, lists, manner(engine, seed), mishap, chance)
        book.at_work.add(engine)
        road = ground.road_of(engine)
        if road is not None:
            book.keeps_only(engine, {road})
        crews.append(PlannedCrew(post, workings))
    scene.truth.reasons, scene.truth.why = book.reasons, lists.why
    return [*crews, Signalman(book)], book
