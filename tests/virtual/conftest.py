"""Railways for the mover: the demonstration, and a line of two stations that a test shapes as it needs."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from bridge.core.plan import Railway
from bridge.folder import load, read
from bridge.virtual.evening import Evening
from bridge.virtual.script import read_script
from bridge.virtual.staging import Stage, stage

DEMO = Path(__file__).parents[2] / "demo" / "railway"

LINE = """
[railway]
id = "line"
name = "A line"
scale = {scale}
clock = 4
[[station]]
id = "ash"
name = "Ash"
[[station.road]]
id = "road"
kind = "running"
length = 1500
open = ["up", "down"]
[[station.road]]
id = "siding"
kind = "siding"
length = 600
open = ["down"]
[[station]]
id = "elm"
name = "Elm"
[[station.road]]
id = "road"
kind = "running"
length = 1500
open = ["up", "down"]
[[section]]
id = "ash-elm"
from = "ash.down"
to = "elm.up"
length = {length}
rule = "one-train"
[[board]]
id = "one"
link = "serial"
"""

READER = """
[[detector]]
id = "reader"
kind = "reader"
at = "ash-elm@ash"
board = "one"
input = 1
"""
STOCK = ["e1,engine,150,04AA000001,", "w1,wagon,80,04AA000002,", "b1,brake,100,04AA000003 04AA000004,"]
STANDING = ["e1,ash.road,3", "w1,ash.road,2", "b1,ash.road,1"]
"""A reader on that line, and a train of three that stands at Ash."""


@cache
def demonstration() -> Railway:
    """The demonstration railway; for properties, which would print all of a fixture that fails."""
    railway = load(DEMO).railway
    assert railway is not None
    return railway


@pytest.fixture(scope="session")
def demo() -> Stage:
    """The demonstration railway, worked by crews."""
    return stage(demonstration())


@pytest.fixture(scope="session")
def scripted() -> Stage:
    """The demonstration railway with its script."""
    return stage(demonstration(), DEMO / "evening.script")


@pytest.fixture(scope="session")
def line() -> Callable[..., Railway]:
    """`line(detectors, stock, standing, length=..., scale=...)`: a railway of two stations and one board."""

    def made(detectors: str, stock: list[str], standing: list[str], length: float = 1000, scale: float = 76.2) -> Railway:
        with_engine = [row.split(",")[0] for row in standing if ",ash.road," in row and not row.startswith("e1")]
        booked = f"g1,goods,e1,ash,road,,19:00,{' '.join(with_engine)}\ng1,goods,e1,elm,road,19:05,,\n"
        head = "vehicle,kind,length,tags,tail\n"
        texts = {
            "railway.toml": LINE.format(length=length, scale=scale) + detectors,
            "stock.csv": head + "\n".join(stock) + "\n",
            "whereabouts.csv": "vehicle,road,order\n" + "\n".join(standing) + "\n",
            "timetable.csv": "working,kind,engine,station,road,arrive,depart,rake\n" + booked,
            "moves.csv": "vehicle,from,to\n",
        }
        found = read({name: text.encode() for name, text in texts.items()})
        assert found.railway is not None, found.findings
        return found.railway

    return made


def evening_of(railway: Railway, script: str, **more: object) -> Evening:
    """An evening from the text of a script."""
    return Evening(railway, read_script(script, "test.script", railway), **more)  # type: ignore[arg-type]
