"""A tag is read: whether its vehicle has gone past, has come and gone back, or comes again; and what stood in its way."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing.arrangement import Arrangement
from bridge.core.whereabouts.weighing.known import Known
from bridge.core.whereabouts.weighing.reading import Reading
from bridge.core.whereabouts.weighing.yard import Yard

from . import exactly
from .yards import Expecting, Explain, plant, set_down, stock

SECTION, LIMIT, MOUTH = "ash-birch", "ash-birch@ash", "ash.dock@down"
ROADS = {
    "ash.main": ("running", "down"),
    "ash.loop": ("loop", "down"),
    "ash.dock": ("siding", "down"),
    "birch.dock": ("siding", "up"),
}
YARD = Yard(plant(ROADS, [("ash.down", "birch.up")], [LIMIT, MOUTH, "birch.dock@up"]), stock("e1", "e2", "w1", "w2", "w3"))
Reads = dict[str, tuple[str, float]]
SEEN = dict.fromkeys(("e1", "e2", "w1", "w2"), "ash")


def read(
    vehicle: str,
    at: str,
    t: float,
    prior: Expecting,
    reads: Reads | None = None,
    *,
    is_echo: bool = False,
    is_again: bool = False,
) -> Explain:
    boundary = YARD.plant.boundaries[at]
    return Reading(YARD, prior, vehicle, boundary, t, Known(SEEN, reads or {}), is_echo=is_echo, is_again=is_again).explain


def after(standing: Sequence[tuple[str, str]], *reads: Explain) -> list[tuple[float, Arrangement]]:
    return exactly.chains([set_down(standing), *reads])


def likely(vehicle: str, place: str, found: Sequence[tuple[float, Arrangement]]) -> float:
    return exactly.places(found, vehicle).get(place, 0.0)


def met(prior: Expecting) -> list[tuple[float, Arrangement]]:
    """A train is read as it comes off the main; another had been in the throat before it, all unseen."""
    standing = [("w2", "ash.main"), ("e2", "ash.main"), ("w1", "ash.down"), ("e1", "ash.down")]
    return after(standing, read("e2", LIMIT, 100.0, prior))


def test_a_train_in_the_way_of_what_is_read_had_stepped_aside_on_to_another_road() -> None:
    """Rather than gone before it past the reader, unread with all its vehicles."""
    found = met(Expecting())
    aside = sum(likely("e1", place, found) for place in ("ash.loop", "ash.dock"))
    assert aside > likely("e1", SECTION, found)
    lines = exactly.lines(found, "ash.loop")
    assert max(lines, key=lambda line: lines[line]) == ("w1", "e1")
    assert likely("e2", SECTION, found) > 0.9


def test_it_has_stepped_aside_on_to_the_road_of_its_train_and_on_to_none_that_says_clear() -> None:
    assert likely("e1", "ash.dock", met(Expecting(call_roads={"e1": "ash.loop"}))) == 0.0
    clear = met(Expecting(states={"ash.loop": "clear"}))
    assert likely("e1", "ash.loop", clear) == 0.0 < likely("e1", "ash.dock", clear)
    none = met(Expecting(states={"ash.loop": "clear", "ash.dock": "clear"}))
    assert likely("e1", "ash.loop", none) == likely("e1", "ash.dock", none) == 0.0


def test_wagons_without_an_engine_have_not_stepped_aside() -> None:
    found = after([("e2", "ash.main"), ("w1", "ash.down")], read("e2", LIMIT, 100.0, Expecting()))
    pushed, aside = likely("w1", SECTION, found), likely("w1", "ash.loop", found)
    other = met(Expecting())
    assert aside / pushed < likely("e1", "ash.loop", other) / likely("e1", SECTION, other)


def test_who_comes_to_a_reader_twice_so_soon_has_gone_past_it() -> None:
    """In and out again, rather than twice up to it from the same side."""
    standing, prior = [("e1", "ash.down")], Expecting()
    soon, late = (
        after(standing, read("e1", MOUTH, 100.0, prior), read("e1", MOUTH, 100.0 + gap_s, prior))
        for gap_s in (c.SOON_S - 1.0, c.SOON_S + 1.0)
    )
    assert likely("e1", "ash.dock", soon) < likely("e1", "ash.dock", late)


def touched(vehicle: str, at: str) -> float:
    """How likely a vehicle that is read coming from the throat has gone back into it."""
    engine = [] if vehicle == "e1" else [("e1", "ash.down")]
    standing = [(vehicle, "ash.down"), *engine] if at == MOUTH else [*engine, (vehicle, "ash.down")]
    return likely(vehicle, "ash.down", after(standing, read(vehicle, at, 100.0, Expecting())))


def test_an_engine_comes_to_the_mouth_of_a_road_and_goes_back_more_often_than_a_wagon() -> None:
    assert touched("e1", MOUTH) > touched("w1", MOUTH) > 0.0
    assert touched("w1", LIMIT) > touched("w1", MOUTH), "what draws out to shunt comes to the section end and goes back"
    assert touched("e1", LIMIT) < touched("e1", MOUTH)


def test_the_same_reader_again_after_others_have_been_read_there_tells_nothing() -> None:
    standing = [("w1", "ash.down"), ("w2", "ash.down"), ("e1", "ash.down")]
    prior = Expecting()
    first: Iterable[Explain] = (read("w1", MOUTH, 100.0, prior), read("w2", MOUTH, 100.8, prior))
    before = after(standing, *first)
    again = after(standing, *first, read("w1", MOUTH, 101.2, prior, is_again=True))
    anew = after(standing, *first, read("w1", MOUTH, 101.2, prior))
    places = exactly.places(before, "w1")
    assert exactly.places(again, "w1") == places
    assert likely("w1", "ash.dock", anew) < places["ash.dock"]


def test_what_another_reader_has_said_just_now_is_likelier_none_of_this_one() -> None:
    standing = [("e1", "ash.down"), ("w3", "birch.dock")]
    echo, plain = (after(standing, read("w3", MOUTH, 100.0, Expecting(), is_echo=each)) for each in (True, False))
    assert likely("w3", "birch.dock", echo) > likely("w3", "birch.dock", plain) > 0.0


def test_a_train_that_steps_aside_from_its_road_keeps_the_wagon_at_its_head_nearest_the_mouth() -> None:
    standing = [("e2", "ash.main"), ("e1", "ash.main"), ("w1", "ash.main")]
    found = after(standing, read("e2", LIMIT, 100.0, Expecting(call_roads={"e1": "ash.loop"})))
    lines = exactly.lines(found, "ash.loop")
    assert max(lines, key=lambda line: lines[line]) == ("e1", "w1")


def inner_comes(reads: Reads) -> list[tuple[float, Arrangement]]:
    """An engine in the throat; the inner one of two wagons is read at the mouth of their siding."""
    standing = [("w1", "ash.dock"), ("w2", "ash.dock"), ("e1", "ash.down")]
    return after(standing, read("w1", MOUTH, 100.0, Expecting(), reads))


def test_who_was_read_going_in_behind_another_stands_before_it() -> None:
    doubtful, inner_last, known = (
        exactly.lines(inner_comes(reads), "ash.dock").get(("w2",), 0.0)
        for reads in ({}, {"w2": (MOUTH, 50.0), "w1": (MOUTH, 60.0)}, {"w1": (MOUTH, 50.0), "w2": (MOUTH, 60.0)})
    )
    assert known < doubtful / 10.0
    assert known < inner_last / 10.0


def test_who_was_read_going_in_has_come_out_unread_where_it_was_left_elsewhere() -> None:
    """Rather than never having been in: that another reader, or none, has said nothing tells less."""
    doubtful, elsewhere, known = (
        likely("w2", "ash.loop", inner_comes(reads)) for reads in ({}, {"w2": (LIMIT, 60.0)}, {"w2": (MOUTH, 60.0)})
    )
    assert known < doubtful / 5.0
    assert known < elsewhere / 5.0


def test_who_was_read_a_moment_ago_has_not_been_taken_to_another_road_since() -> None:
    """A wagon is read at the mouth of the dock, then its engine behind it: the wagon is in there and has not gone back to
    another road; a minute later it may have."""
    gone = []
    for gap_s in (1.0, 60.0):
        reads = {"w1": (MOUTH, 100.0)}
        found = after(
            [("w1", "ash.down"), ("e1", "ash.down")],
            read("w1", MOUTH, 100.0, Expecting()),
            read("e1", MOUTH, 100.0 + gap_s, Expecting(), reads),
        )
        gone.append(likely("w1", "ash.main", found) + likely("w1", "ash.loop", found))
    assert gone[0] < gone[1] / 10.0


def test_who_is_read_where_nothing_can_have_brought_it_is_there_once_it_is_read_again() -> None:
    """An engine is believed behind others on a siding two stations off, with readers all the way: a ghost, or all of that is
    wrong; the next read, or a wagon that comes after it and needs an engine, tells which."""
    roads = {"ash.main": ("running", "down"), "birch.main": ("running", "up down"), "cedar.dock": ("siding", "up")}
    sections = [("ash.down", "birch.up"), ("birch.down", "cedar.up")]
    limits = [LIMIT, "ash-birch@birch", "birch-cedar@birch", "birch-cedar@cedar", "cedar.dock@up"]
    yard = Yard(plant(roads, sections, limits), stock("e1", "w1", "w2", "w3"))
    standing = [("w3", "cedar.dock"), ("w2", "cedar.dock"), ("e1", "cedar.dock"), ("w1", "ash.main")]

    def reads(*rows: tuple[str, float]) -> float:
        """How likely the engine is on its siding still, once these have been read at the end of the section."""
        known, explained = Known({"e1": "cedar", "w1": "ash"}, {}), [set_down(standing)]
        for vehicle, t in rows:
            boundary = yard.plant.boundaries[LIMIT]
            explained.append(Reading(yard, Expecting(), vehicle, boundary, t, known, is_echo=False).explain)
        return likely("e1", "cedar.dock", exactly.chains(explained))

    assert 0.5 < reads(("e1", 100.0)) < 0.8
    assert reads(("e1", 100.0), ("e1", 110.0)) < 0.001
    assert reads(("e1", 100.0), ("w1", 101.0)) < 0.1
