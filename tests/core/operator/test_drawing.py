"""How the line is drawn, told by words: kept from session to session, taken back, and nothing to do with the railway."""

from __future__ import annotations

from typing import Any

import pytest

from bridge.core import fold, state
from bridge.core.drawn import Drawn
from bridge.core.events import FolderTaken, Journalled
from bridge.core.learned import Learned
from bridge.core.view import view
from bridge.service.core import CORE
from bridge.service.folding import Evening
from bridge.wire.records import Said

from ..conftest import Session, line


def drawn(s: Session) -> list[dict[str, Any]]:
    found = view(s.state)["drawn"]
    assert isinstance(found, list)
    return found


def test_a_station_is_moved_and_its_roads_put_in_another_order() -> None:
    s = Session(line(), begin=None)
    assert s.say("draw ash -3 2") == "ash is drawn 3 to the left and 2 down."
    assert s.say("draw ash.dock 1") == "ash.dock is drawn as road 1 from the top."
    assert drawn(s) == [{"station": "ash", "right": -3, "down": 2, "roads": ["ash.dock", "ash.main", "ash.loop"]}]
    s.say("draw ash.dock 9")
    assert drawn(s)[0]["roads"] == []  # as they stand in railway.toml
    assert s.say("draw ash by-itself") == "ash is drawn by itself again."
    assert drawn(s) == []


def test_it_is_taken_back_and_is_no_word_about_the_railway() -> None:
    s = Session(line())
    s.say("draw birch.loop 1")
    road = s.n
    s.say("draw birch 0 4")
    station = s.n
    assert [row["words"] for row in view(s.state)["told"]] == ["begin 19:01"]
    s.say(f"undo {station}")
    assert drawn(s) == [{"station": "birch", "right": 0, "down": 0, "roads": ["birch.loop", "birch.main", "birch.dock"]}]
    s.say(f"undo {road}")
    assert drawn(s) == []


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        ("draw elm 1 1", "No station is called “elm”"),
        ("draw ash.mein 1", "No road is called “ash.mein”"),
        ("draw ash.main 1 1", "No station is called “ash.main”"),
        ("draw ash 41 0", "“41 0” is not so many steps"),
        ("draw ash 0 -1", "“0 -1” is not so many steps"),
        ("draw ash left 1", "“left 1” is not so many steps"),
        ("draw ash.dock 0", "“0” is not a number of a road"),
    ],
)
def test_what_cannot_be_drawn_is_answered(words: str, answer: str) -> None:
    s = Session(line(), begin=None)
    assert s.say(words).startswith(answer)
    assert drawn(s) == []


def test_the_next_session_draws_it_the_same_whether_this_one_has_begun_or_not() -> None:
    railway = line()
    first = Evening(CORE, railway)
    first.take(Said(1.0, None, "draw ash -3 2"))
    known = first.learned()
    assert known is not None and known.drawn == {"ash": Drawn(-3, 2)}
    assert Learned.from_text(known.as_text()) == known
    second = Evening(CORE, railway, False, known)
    for t, words in ((2.0, "begin 19:00"), (3.0, "draw birch.dock 1")):
        second.take(Said(t, None, words))
    assert [row["station"] for row in second.view()["drawn"]] == ["ash", "birch"]
    third = Evening(CORE, railway, False, second.learned())
    third.take(Said(4.0, None, "draw ash by-itself"))
    assert [row["station"] for row in third.view()["drawn"]] == ["birch"]


def test_what_the_folder_no_longer_has_is_left_out() -> None:
    known = Learned({}, {}, {"elm": Drawn(1, 1), "ash": Drawn(0, 0, ("ash.dock", "ash.coal", "ash.main"))})
    now, _ = fold.fold(state.fresh(), FolderTaken(0.0, line(), known))
    now, _ = fold.fold(now, Journalled(1, Said(1.0, None, "go-on")))
    (row,) = view(now)["drawn"]
    assert row["roads"] == ["ash.dock", "ash.main", "ash.loop"]


@pytest.mark.parametrize("text", ['{"a":[1,2]}', '{"a":[1,"2",[]]}', '{"a":[1,2,[3]]}', "[]"])
def test_what_cannot_be_read_of_an_earlier_drawing_says_so(text: str) -> None:
    with pytest.raises(ValueError, match="drawn otherwise"):
        Learned.from_text(f'{{"readers":{{}},"tags":{{}},"drawn":{text}}}')
