"""The document of what goes out by MQTT is one, and describes every message that goes out."""

from __future__ import annotations

import copy
import json
import re
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest

from bridge.links.topics import filters_of
from bridge.published import BRIDGE, TICK, bridge_is, document, things, ticking

from .test_things import EXAMPLE

PINNED = Path(__file__).with_name("asyncapi-3.0.0.json")
"""The AsyncAPI initiative's own schema; where it is from stands in its first line."""


@pytest.fixture(scope="module")
def judge() -> Any:
    return jsonschema_rs.validator_for(json.loads(PINNED.read_text(encoding="utf-8")))


def test_it_is_an_asyncapi_document(judge: Any) -> None:
    made = document()
    assert [error.message for error in judge.iter_errors(made)] == []
    assert json.loads(json.dumps(made)) == made


@pytest.mark.parametrize(
    "path",
    [("info", "title"), ("operations", "publish-roads", "action"), ("channels", "roads", "messages", "roads", "payload")],
)
def test_the_judge_bites(judge: Any, path: tuple[str, ...]) -> None:
    made = copy.deepcopy(document())
    inner = made
    for key in path[:-1]:
        inner = inner[key]
    inner[path[-1]] = 7
    assert not judge.is_valid(made)


def channel_of(made: Any, topic: str) -> Any:
    """The one channel whose address this topic fits."""
    fitting = [
        channel
        for channel in made["channels"].values()
        if re.fullmatch(re.sub(r"\\{\w+\\}", "[^/]+", re.escape(channel["address"])), topic)
    ]
    assert len(fitting) == 1, (topic, fitting)
    return fitting[0]


def judge_of(made: Any, channel: Any) -> Any:
    (message,) = channel["messages"].values()
    return jsonschema_rs.validator_for({**message["payload"], "components": made["components"]})


def test_every_message_is_described_and_as_it_is_described() -> None:
    made = document()
    told = {"who": "ann", "n": 3, "t": 1.5, "clock": None, "words": "end", "about": [], "answer": "Noted."}
    told |= {"can_undo": False, "undone_by": None, "undone_who": None}
    tag = {"tag": "04A1", "detector": "d", "t": 1.0}
    drawn = {"station": "wrenfield", "right": 1, "down": -1, "roads": []}
    snapshot = {**EXAMPLE, "drawn": [drawn], "strange_tags": [tag], "tags_read": [tag], "told": [told], "unkept": UNKEPT}
    messages = {**things(snapshot), BRIDGE: bridge_is("gone"), TICK: ticking(snapshot)}
    seen = set()
    for suffix, row in messages.items():
        channel = channel_of(made, f"numbertaker/wren-vale/state/{suffix}")
        seen.add(channel["address"])
        assert [error.message for error in judge_of(made, channel).iter_errors(row)] == [], suffix
        assert not judge_of(made, channel).is_valid({**row, "more": 1}), suffix
    assert {c["address"] for c in made["channels"].values() if "/state/" in c["address"]} == seen


UNKEPT = {"since_t": 1.0, "since": "20:14", "records": 3, "why": "full", "do": "Make room.", "goes_on": True}


def test_outcomes_and_words_have_their_topics() -> None:
    made = document()
    row = {"n": 1, "t": 2.5, "clock": None, "says": "arrived", "evidence": [4], "train": "P3"}
    assert judge_of(made, channel_of(made, "numbertaker/branch/says/arrived")).is_valid(row)
    assert channel_of(made, filters_of("branch")[2])["address"].endswith("/operator")
