"""What each call has to do, as it stands, what stands before it; where irregularities are; which tags belong to whom."""

from __future__ import annotations

from typing import Any

from bridge.core import item_places
from bridge.core.ledger import Claim
from bridge.core.view import view

from ..conftest import Session, line

MOVES = "vehicle,from,to,working,call\nw1,ash.main,birch.dock,g1,\n"


def work(s: Session, train: str = "g1") -> list[list[tuple[Any, ...]]]:
    (row,) = (train_row for train_row in view(s.state)["trains"] if train_row["id"] == train)
    return [[(t["vehicle"], t["does"], t["state"], t["behind"]) for t in call["work"]] for call in row["calls"]]


def test_what_is_in_the_rake_is_set_out_behind_what_is_nearer_to_the_engine() -> None:
    s = Session(line(moves=MOVES + "v1,ash.main,birch.dock,g1,\n"))
    assert work(s) == [[], [("w1", "set-out", "to-do", []), ("v1", "set-out", "to-do", ["w1"])]]


def test_what_is_lifted_stands_behind_what_is_nearer_to_the_open_end() -> None:
    standing = "vehicle,road,order\ne1,ash.main,3\nv1,ash.main,1\nw1,ash.main,2\nw2,ash.dock,1\nw4,ash.dock,2\n"
    s = Session(
        line(
            whereabouts=standing,
            moves="vehicle,from,to,working,call\nw2,ash.dock,birch.dock,g1,\nw4,ash.dock,birch.dock,g1,\n",
        )
    )
    (road,) = (r for station in view(s.state)["stations"] for r in station["roads"] if r["id"] == "ash.dock")
    lifts, sets_out = work(s)
    nearest = road["line"][-1] if road["open"] == ["down"] else road["line"][0]
    other = ({"w2", "w4"} - {nearest}).pop()
    assert lifts == [(nearest, "lift", "to-do", []), (other, "lift", "to-do", [nearest])]
    assert {(vehicle, does, state) for vehicle, does, state, _ in sets_out} == {
        ("w2", "set-out", "to-do"),
        ("w4", "set-out", "to-do"),
    }
    s.say(f"lifts g1 {nearest}")
    assert work(s)[0] == [(other, "lift", "to-do", []), (nearest, "lift", "done", [])]


def test_what_has_been_set_out_is_done() -> None:
    s = Session(line(moves=MOVES))
    s.say("arrive g1 birch.main")
    s.say("sets-out g1 w1 birch.dock")
    assert work(s)[1] == [("w1", "set-out", "done", [])]


def test_a_strange_tag_is_shown_until_it_is_given_and_again_once_that_is_taken_back() -> None:
    s = Session(line())
    s.see("ash-dock-reader", "tag=04FFFF01")
    (row,) = view(s.state)["strange_tags"]
    assert (row["tag"], row["detector"], row["t"]) == ("04FFFF01", "ash-dock-reader", s.t)
    s.say("tag 04FFFF01 w4")
    drawn = view(s.state)
    assert drawn["strange_tags"] == []
    assert "04FFFF01" in drawn["vehicles"]["w4"]["tags"]
    s.say(f"undo {s.n}")
    assert "04FFFF01" not in view(s.state)["vehicles"]["w4"]["tags"]
    s.see("ash-dock-reader", "tag=04FFFF01")
    assert [row["tag"] for row in view(s.state)["strange_tags"]] == ["04FFFF01"]


def test_an_irregularity_is_where_what_it_names_is() -> None:
    s = Session(line())
    s.see("ash-dock-reader", "tag=04FFFF01").see("ash-dock-reader", "tag=04FFFF01", 3.0)
    (row,) = view(s.state)["irregularities"]
    assert (row["kind"], row["places"]) == ("tag-unknown", ["ash.dock"])
    named: list[dict[str, Any]] = [
        {"section": "ash-birch", "train": "g1"},
        {"vehicle": "w3"},
        {"trains": ("g1", "p2")},
        {"board": "one"},
        {"rule": "x"},
    ]
    found = [item_places.places(s.state, Claim("any", "cause", keys, "", "")) for keys in named]
    assert found == [("ash-birch",), ("birch.dock",), ("ash.main", "ash.loop"), ("ash", "birch", "ash-birch"), ()]
