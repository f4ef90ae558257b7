"""The event logs: well formed, typed, and whole."""

from __future__ import annotations

import json
from datetime import datetime
from typing import Any
from xml.etree import ElementTree

from bridge.audit.account import Account
from bridge.audit.eventlog import events, ocel, xes

NS = "{http://www.xes-standard.org/}"
TYPES = {
    "string": str,
    "date": datetime.fromisoformat,
    "int": int,
    "float": float,
    "boolean": {"true": 1, "false": 0}.__getitem__,
}


def test_only_what_stands_is_logged_in_the_order_of_its_time(told: Any) -> None:
    logged = events(told.account())
    struck = set(told.account().corrections)
    assert not struck & {event.n for event in logged}
    assert [event.time for event in logged] == sorted(event.time for event in logged)
    left = next(event for event in logged if event.activity == "departed")
    assert left.time.isoformat() == "2000-01-01T19:11:16+00:00"  # when it happened, not when it was said


def test_the_xes_log_keeps_to_its_standard(told: Any) -> None:
    """IEEE 1849-2016: a log of traces of events; every attribute typed and keyed; the prefixes of keys declared."""
    log = ElementTree.fromstring(xes(told.account()))
    assert (log.tag, log.get("xes.version")) == (f"{NS}log", "1849-2016")
    (trace,) = log.findall(f"{NS}trace")
    for event in trace.findall(f"{NS}event"):
        attributes = {attribute.get("key"): attribute for attribute in event}
        assert len(attributes) == len(event)
        assert {"concept:name", "time:timestamp", "lifecycle:transition"} <= set(attributes)
        for attribute in event:
            TYPES[attribute.tag.removeprefix(NS)](attribute.get("value") or "")
    declared = {extension.get("prefix") for extension in log.findall(f"{NS}extension")}
    prefixes = {(element.get("key") or "").rpartition(":")[0] for element in log.iter() if ":" in (element.get("key") or "")}
    assert prefixes <= declared


def test_each_train_is_a_case_with_its_events(told: Any) -> None:
    log = ElementTree.fromstring(xes(told.account()))
    (trace,) = log.findall(f"{NS}trace")
    names = [a.get("value") for event in trace.findall(f"{NS}event") for a in event if a.get("key") == "concept:name"]
    assert names[:4] == ["departed", "entered", "move in-train", "arrived"]
    assert names.count("section-clash") == 1  # its end names no train here
    assert "overdue" not in names  # taken back


def test_the_ocel_log_refers_only_to_what_it_declares(told: Any) -> None:
    """OCEL 2.0, JSON form: event and object types, objects and events; each value and relation declared."""
    log = json.loads(ocel(told.account()))
    assert set(log) == {"objectTypes", "eventTypes", "objects", "events"}
    kinds = {kind["name"] for kind in log["objectTypes"]}
    types = {kind["name"]: {a["name"] for a in kind["attributes"]} for kind in log["eventTypes"]}
    objects = {thing["id"]: thing["type"] for thing in log["objects"]}
    assert len(objects) == len(log["objects"])
    assert set(objects.values()) <= kinds
    assert len({event["id"] for event in log["events"]}) == len(log["events"])
    for event in log["events"]:
        assert {a["name"] for a in event["attributes"]} <= types[event["type"]]
        assert all(relation["objectId"] in objects for relation in event["relationships"])
        datetime.fromisoformat(event["time"])
    done = next(event for event in log["events"] if event["type"] == "move done")
    assert {(r["objectId"], r["qualifier"]) for r in done["relationships"]} == {
        ("train g1", "train"),
        ("vehicle w1", "vehicle"),
        ("road alder.dock", "from"),
        ("road birch.platform", "to"),
    }


def test_hours_past_midnight_are_the_next_day(evening: Any) -> None:
    keys = {"train": "g1", "section": "alder-birch", "complete": None}
    evening.say(1.0, "24:10:00", "entered", **keys)
    (event,) = events(evening.account())
    assert event.time.isoformat() == "2000-01-02T00:10:00+00:00"


def test_an_empty_session_makes_empty_logs(railway: Any) -> None:
    account = Account(railway, ())
    assert json.loads(ocel(account))["events"] == []
    assert ElementTree.fromstring(xes(account)).findall(f"{NS}trace") == []


def test_what_xml_cannot_hold_is_left_out(told: Any) -> None:
    told.wrong(300.0, "19:20:00", "i9", "overdue", text="bell\x07 <and>", train="g1")
    assert "bell &lt;and&gt;" in xes(told.account())
