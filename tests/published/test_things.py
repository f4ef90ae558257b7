"""A snapshot cut into things: all of it is there, each with its keys, and what runs on by itself is left out."""

from __future__ import annotations

import copy
import json
from pathlib import Path
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from bridge.links.topics import topic_of
from bridge.published import bridge_is, things, ticking
from bridge.published.things import topic

EXAMPLE: dict[str, Any] = json.loads(
    (Path(__file__).parent.parent / "dashboard" / "example.json").read_text(encoding="utf-8")
)["snapshot"]
EXAMPLE = {"troubles": [], "unkept": None, "drawn": [], "tags_read": [], "told": [], **EXAMPLE}


def changed(**more: Any) -> dict[str, Any]:
    return {**copy.deepcopy(EXAMPLE), **more}


def differing(a: dict[str, Any], b: dict[str, Any]) -> set[str]:
    """The topics by which two snapshots differ."""
    was, now = things(a), things(b)
    return {suffix for suffix in was.keys() | now.keys() if was.get(suffix) != now.get(suffix)}


def test_everything_is_there_under_its_name() -> None:
    found = things(EXAMPLE)
    assert found["railway"] == EXAMPLE["railway"]
    assert found["vehicles/e7"] == EXAMPLE["vehicles"]["e7"]
    assert found["roads/wrenfield.dock"] == EXAMPLE["stations"][0]["roads"][2]
    assert found["stations/wrenfield"]["roads"] == ["wrenfield.platform", "wrenfield.loop", "wrenfield.dock"]
    assert found["throats/otterbeck.up"]["state"] == "clear"
    assert {f"vehicles/{id}" for id in EXAMPLE["vehicles"]} <= found.keys()
    assert {
        f"{part}/{row['id']}" for part in ("sections", "trains", "irregularities") for row in EXAMPLE[part]
    } <= found.keys()
    assert {f"moves/{n}" for n in range(1, len(EXAMPLE["moves"]) + 1)} <= found.keys()


def test_what_runs_on_by_itself_changes_no_thing() -> None:
    later = changed()
    later["session"].update(t=99.0, journal=9_999, clock="20:00:00")
    for board in later["boards"]:
        board["last_t"] = 98.0
    for train in later["trains"]:
        if train["may_go"]:
            train["may_go"]["seconds"] = 1
    assert differing(EXAMPLE, later) == set()
    assert ticking(later) == {"t": 99.0, "journal": 9_999, "clock": "20:00:00"}
    assert any(train["may_go"] for train in EXAMPLE["trains"])


def test_a_change_is_a_change_of_that_thing_alone() -> None:
    later = changed()
    later["vehicles"]["e7"]["sure"] = 0.5
    later["irregularities"] = later["irregularities"][1:]
    assert differing(EXAMPLE, later) == {"vehicles/e7", f"irregularities/{EXAMPLE['irregularities'][0]['id']}"}


def test_what_is_null_is_no_thing() -> None:
    assert "unkept" not in things(EXAMPLE)
    assert "railway" not in things(changed(railway=None))
    assert things(changed(troubles=["The disk is full."]))["troubles"] == {"troubles": ["The disk is full."]}


def test_the_bridge_says_how_it_is() -> None:
    assert bridge_is("gone")["state"] == "gone"


@given(st.text(min_size=1), st.text(min_size=1))
def test_whatever_a_thing_is_called_it_has_a_topic_of_its_own(one: str, other: str) -> None:
    made = [topic("trains", name) for name in (one, other) if name.isprintable()]
    for suffix in made:
        assert suffix.count("/") == 1
        assert topic_of("branch", "state", suffix)
    assert len(set(made)) == len({name for name in (one, other) if name.isprintable()})
