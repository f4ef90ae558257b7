"""The snapshot: every key that pages read is always there, before a folder, before a session, in it and behind it."""

from __future__ import annotations

import json
from typing import Any

import pytest

from bridge.core import fold, state
from bridge.core.view import view

from .conftest import DOCKS, ENDS, RESTS, TRACKS, Session, line

KEYS = {
    "": {
        "railway", "session", "stations", "sections", "vehicles", "trains", "moves", "irregularities", "boards", "detectors",
        "strange_tags", "drawn", "tags_read", "told",
    },
    "railway": {"id", "name", "scale", "clock_rate"},
    "session": {"state", "clock", "clock_running", "t", "journal"},
    "stations": {"id", "name", "roads", "throats"},
    "roads": {"id", "name", "kind", "length_mm", "open", "state", "line", "stands_mm"},
    "throats": {"id", "end", "state", "line"},
    "sections": {"id", "from", "to", "length_mm", "rule", "directions", "state", "line", "trains", "authority"},
    "authority": {"train", "why"},
    "vehicles": {
        "id", "kind", "class", "painted", "length_mm", "place", "order", "fouls", "train", "sure", "by", "tags",
    },
    "trains": {
        "id", "engine", "kind", "state", "station", "road", "section", "call", "calls", "late", "rake", "may_go",
    },
    "may_go": {"section", "answer", "why", "seconds"},
    "calls": {"station", "road", "arrive", "depart", "state", "work"},
    "work": {"vehicle", "does", "from", "to", "state", "sure", "behind"},
    "moves": {"vehicle", "from", "to", "working", "state", "sure"},
    "irregularities": {
        "id", "kind", "level", "status", "text", "do", "because", "cause", "explained", "acknowledged", "verdict",
        "evidence", "t", "clock", "places",
    },
    "strange_tags": {"tag", "detector", "t"},
    "drawn": {"station", "right", "down", "roads"},
    "tags_read": {"tag", "detector", "t"},
    "told": {"n", "t", "clock", "who", "words", "about", "answer", "can_undo", "undone_by", "undone_who"},
    "boards": {"id", "link", "state", "boot", "last_t", "missing", "rejected", "unnumbered"},
    "detectors": {"id", "kind", "where", "board", "input", "state", "since", "muted", "why"},
}  # fmt: skip
"""The keys of each part, as DEVELOPERS.md has them."""


def assert_whole(drawn: dict[str, Any]) -> None:
    """Every key of every part is there, and no other; and it is JSON."""
    assert set(drawn) == KEYS[""]
    for part in ("railway", "session"):
        assert drawn[part] is None or set(drawn[part]) == KEYS[part]
    lists = ("stations", "sections", "trains", "moves", "irregularities", "boards", "detectors", "strange_tags")
    lists += ("drawn", "tags_read", "told")
    rows = {part: drawn[part] for part in lists}
    rows["vehicles"] = list(drawn["vehicles"].values())
    rows["roads"] = [road for station in drawn["stations"] for road in station["roads"]]
    rows["throats"] = [throat for station in drawn["stations"] for throat in station["throats"]]
    rows["authority"] = [each for section in drawn["sections"] for each in section["authority"]]
    rows["calls"] = [call for train in drawn["trains"] for call in train["calls"]]
    rows["work"] = [task for call in rows["calls"] for task in call["work"]]
    rows["may_go"] = [train["may_go"] for train in drawn["trains"] if train["may_go"] is not None]
    for part, found in rows.items():
        assert all(set(row) == KEYS[part] for row in found), part
    assert json.loads(json.dumps(drawn)) == drawn


def busy() -> Session:
    """A session with a train out without the token, and a move to do."""
    detectors = (*TRACKS, *ENDS, *DOCKS, *RESTS)
    s = Session(line(rule="token", detectors=detectors, moves="vehicle,from,to,working,call\nw1,ash.main,birch.dock,g1,\n"))
    s.goods_leaves()
    return s


def test_before_there_is_a_folder() -> None:
    drawn = view(state.fresh())
    assert_whole(drawn)
    assert drawn["railway"] is None
    assert drawn["session"] == {"state": "waiting", "clock": None, "clock_running": False, "t": 0.0, "journal": 0}


def test_before_a_session() -> None:
    s = Session(line(), begin=None)
    drawn = view(s.state)
    assert_whole(drawn)
    assert (drawn["session"]["state"], drawn["session"]["journal"], drawn["trains"]) == ("waiting", s.n, [])
    assert drawn["vehicles"]["e1"]["place"] == "ash.main"


def test_in_a_session() -> None:
    s = busy()
    drawn = view(s.state)
    assert_whole(drawn)
    assert (drawn["session"]["state"], drawn["session"]["clock_running"]) == ("running", True)
    (section,) = drawn["sections"]
    assert (section["line"], section["trains"]) == (["v1", "w1", "e1"], ["g1"])
    assert section["authority"] == []
    goods = next(train for train in drawn["trains"] if train["id"] == "g1")
    assert (goods["state"], goods["section"], goods["rake"]) == ("in-section", "ash-birch", ["e1", "w1", "v1"])
    assert [call["state"] for call in goods["calls"]] == ["done", "to-come"]
    assert [(row["kind"], row["status"]) for row in drawn["irregularities"]] == [("no-authority", "open")]
    assert drawn["moves"][0]["state"] == "in-train"


def test_who_has_authority() -> None:
    s = Session(line(rule="token"))
    s.say("give ash-birch p2")
    (section,) = view(s.state)["sections"]
    assert section["authority"] == [{"train": "p2", "why": "token"}]


def test_lengths_on_a_road_are_summed() -> None:
    drawn = view(Session(line()).state)
    roads = {road["id"]: road for station in drawn["stations"] for road in station["roads"]}
    assert roads["ash.main"]["line"] == ["v1", "w1", "e1"]
    assert roads["ash.main"]["stands_mm"] == 120 + 100 + 150
    assert (roads["ash.main"]["state"], roads["birch.dock"]["state"]) == ("occupied", "unwatched")


@pytest.mark.parametrize("words", ["mute line", "stop-clock", "end"])
def test_after_words(words: str) -> None:
    s = busy()
    s.say(words)
    drawn = view(s.state)
    assert_whole(drawn)
    line_now = next(row for row in drawn["detectors"] if row["id"] == "line")
    assert (line_now["muted"], line_now["state"]) == ((True, "unknown") if words == "mute line" else (False, "occupied"))
    assert drawn["session"]["clock_running"] is (words == "mute line")


def test_what_an_operator_said_of_an_irregularity_is_shown() -> None:
    s = busy()
    for words in ("acknowledge i1", "explain i1 it was in my pocket", "verdict i1 mine"):
        s.say(words)
    (row,) = view(s.state)["irregularities"]
    assert (row["acknowledged"], row["explained"], row["verdict"], row["status"]) == (
        True,
        "it was in my pocket",
        "mine",
        "open",
    )


def test_open_ones_go_first_then_the_newest() -> None:
    s = Session(line())
    s.see("ash-dock-reader", "tag=04FFFF01").see("ash-dock-reader", "tag=04FFFF01", 3.0)
    s.see("ash-dock-reader", "tag=04FFFF02").see("ash-dock-reader", "tag=04FFFF02", 3.0)
    s.see("ash-dock-reader", "tag=04FFFF03").see("ash-dock-reader", "tag=04FFFF03", 3.0)
    s.say("tag 04FFFF03 w4")
    rows = view(s.state)["irregularities"]
    assert [(row["id"], row["status"]) for row in rows] == [("i2", "open"), ("i1", "open"), ("i3", "ended")]


def test_drawing_changes_nothing() -> None:
    s = busy()
    assert view(s.state) == view(s.state)
    other, said = fold.close(s.state, s.t)
    assert said and other is s.state
