"""The plainest tracker, on a line of two stations: ash has a main road and a dock, the section goes on to birch."""

from __future__ import annotations

import pytest

from bridge.core.plan import Railway
from bridge.folder import read
from bridge.wire.lines import Report, State
from bridge.wire.records import Received

from .engine import Held
from .toggle import Toggle

PLANT = """
[railway]
id = "twig"
name = "Twig"
scale = 87.0
clock = 4
[[station]]
id = "ash"
name = "Ash"
[[station.road]]
id = "main"
kind = "running"
length = 2000
open = ["up", "down"]
[[station.road]]
id = "dock"
kind = "siding"
length = 600
open = ["down"]
[[station]]
id = "birch"
name = "Birch"
[[station.road]]
id = "main"
kind = "running"
length = 2000
open = ["up", "down"]
[[section]]
id = "line"
from = "ash.down"
to = "birch.up"
length = 4000
rule = "one-train"
[[board]]
id = "one"
link = "serial"
[[detector]]
id = "mouth"
kind = "reader"
board = "one"
input = 1
at = "ash.dock@down"
[[detector]]
id = "end"
kind = "reader"
board = "one"
input = 2
at = "line@ash"
"""
STOCK = "vehicle,kind,length,tags\ne1,engine,150,04A1\nw1,wagon,100,04B1\nw2,wagon,100,04B2\n"
STANDING = "vehicle,road,order\nw1,ash.dock,1\nw2,ash.dock,2\ne1,ash.main,1\n"
MOUTH, END = 1, 2


@pytest.fixture(scope="module")
def railway() -> Railway:
    texts = {"railway.toml": PLANT, "stock.csv": STOCK, "whereabouts.csv": STANDING}
    found = read({name: text.encode() for name, text in texts.items()})
    assert found.railway is not None, [finding.message for finding in found.findings]
    return found.railway


@pytest.fixture
def toggle(railway: Railway) -> Toggle:
    return Toggle(railway)


def heard(toggle: Toggle, seq: int, where: int, tag: str) -> None:
    toggle.take(Received(float(seq), "serial-one", Report("one", 7, seq, 1000 * seq, where, f"tag={tag}")))


def test_it_begins_where_the_folder_says(toggle: Toggle) -> None:
    assert toggle.beliefs()["w2"] == Held("ash.dock", 2, 1.0)


def test_each_read_takes_a_vehicle_to_the_other_side(toggle: Toggle) -> None:
    heard(toggle, 1, MOUTH, "04B2")
    assert toggle.beliefs()["w2"].place == "ash.down"
    heard(toggle, 2, MOUTH, "04B2")
    assert toggle.beliefs()["w2"] == Held("ash.dock", 2, 1.0)


def test_it_comes_to_stand_at_the_end_by_which_it_came(toggle: Toggle) -> None:
    heard(toggle, 1, MOUTH, "04B2")
    heard(toggle, 2, MOUTH, "04B1")
    assert [toggle.beliefs()[v] for v in ("w1", "w2")] == [Held("ash.down", 1, 1.0), Held("ash.down", 2, 1.0)]
    heard(toggle, 3, END, "04B1")
    heard(toggle, 4, END, "04B2")
    assert [toggle.beliefs()[v] for v in ("w1", "w2")] == [Held("line", 2, 1.0), Held("line", 1, 1.0)]


def test_from_neither_side_it_comes_past_from_the_nearer(toggle: Toggle) -> None:
    heard(toggle, 1, END, "04A1")
    assert toggle.beliefs()["e1"].place == "line"


def test_a_report_that_is_sent_again_and_a_state_are_no_reads(toggle: Toggle) -> None:
    heard(toggle, 1, MOUTH, "04B2")
    heard(toggle, 1, MOUTH, "04B2")
    toggle.take(Received(2.0, "serial-one", State("one", 7, 2, 2000, MOUTH, "tag=04B2")))
    heard(toggle, 3, MOUTH, "04FF")
    assert toggle.beliefs()["w2"].place == "ash.down"


def test_it_says_nothing_and_no_time_passes_for_it(toggle: Toggle) -> None:
    assert (toggle.until(99.0), toggle.close(), toggle.says) == ((), (), False)
