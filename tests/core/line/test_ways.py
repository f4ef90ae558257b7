"""The ways of working: an intermediate siding between two sections, and that every way has what ends it.

What shutting a train in at such a siding asks for is common practice and has no source: once it is in and its token lies
there, the section may be worked behind it.
"""

from __future__ import annotations

import pytest

from bridge.core.line.ways import GIVEN_BACK, LAID_DOWN, SHUNTED_BACK, WAYS
from bridge.core.plan import Railway
from bridge.core.plant import SectionRule
from bridge.core.view import view
from bridge.folder import read

from ..conftest import ROADS, STOCK, Session

UPPER, LOWER = "04FF01", "04FF02"
SIDING = """
[[station]]
id = "pit"
name = "Pit"
[[station.road]]
id = "siding"
kind = "siding"
length = 900
open = ["up", "down"]
[[station.road]]
id = "line"
kind = "running"
length = 900
open = ["up", "down"]
"""
TIMETABLE = """working,kind,engine,station,road,arrive,depart,rake
g1,goods,e1,ash,main,,19:02,w1 v1
g1,goods,e1,pit,siding,19:06,19:30,
g1,goods,e1,ash,main,19:34,,
p2,passenger,e2,ash,loop,,19:10,
p2,passenger,e2,pit,line,19:14,19:14,
p2,passenger,e2,birch,loop,19:18,,
"""


def railway() -> Railway:
    """Ash, the siding at the pit, Birch; a token for each section, with a rest at either end of it."""
    toml = '[railway]\nid = "line"\nname = "A line"\nscale = 76.2\nclock = 4\n'
    toml += ROADS.format(id="ash", name="Ash") + SIDING + ROADS.format(id="birch", name="Birch")
    detectors: list[str] = []
    for a, b, tag in (("ash", "pit", UPPER), ("pit", "birch", LOWER)):
        section = f"{a}-{b}"
        toml += f'[[section]]\nid = "{section}"\nfrom = "{a}.down"\nto = "{b}.up"\nlength = 5000\n'
        toml += f'rule = "token"\ntoken_tags = ["{tag}"]\n'
        detectors += [f'id = "{section}"\nkind = "track"\ncovers = "{section}"']
        detectors += [f'id = "{section}-{end}"\nkind = "reader"\nat = "{section}@{end}"' for end in (a, b)]
        detectors += [
            f'id = "{section}-rest-{end}"\nkind = "token-rest"\ntoken = "{section}"\nstation = "{end}"' for end in (a, b)
        ]
    for road in ("ash.main", "ash.loop", "pit.siding", "pit.line", "birch.loop"):
        detectors.append(f'id = "{road.replace(".", "-")}"\nkind = "track"\ncovers = "{road}"')
    toml += '[[board]]\nid = "one"\nlink = "mqtt"\n'
    for number, table in enumerate(detectors, 1):
        toml += f'[[detector]]\n{table}\nboard = "one"\ninput = {number}\n'
    files = {
        "railway.toml": toml,
        "stock.csv": STOCK,
        "whereabouts.csv": "vehicle,road,order\nv1,ash.main,1\nw1,ash.main,2\ne1,ash.main,3\ne2,ash.loop,1\n",
        "timetable.csv": TIMETABLE,
        "moves.csv": "vehicle,from,to,working,call\n",
    }
    found = read({name: text.encode() for name, text in files.items()})
    assert found.railway is not None, found.findings
    return found.railway


def shut_in() -> Session:
    """g1 has gone from Ash into the siding, complete."""
    s = Session(railway(), begin=None)
    for rest, tag in (("ash-pit-rest-ash", UPPER), ("pit-birch-rest-pit", LOWER)):
        s.see(rest, f"tag={tag}", 0.0)
    s.wait(1.0).say("begin 19:01")
    s.off("ash-pit-rest-ash").wait(2.0)
    s.on("ash-pit").read("ash-pit-ash", "e1", "w1").off("ash-main", after=0.2).read("ash-pit-ash", "v1")
    s.wait(6.0).read("ash-pit-pit", "e1", "w1").on("pit-siding", after=0.3).read("ash-pit-pit", "v1")
    return s.off("ash-pit").wait(3.0)


def may_go(s: Session, train: str) -> dict[str, str]:
    found: dict[str, str] = next(row for row in view(s.state)["trains"] if row["id"] == train)["may_go"]
    return found


def test_a_train_in_the_siding_has_arrived_and_keeps_the_section_to_itself_until_its_token_lies_there() -> None:
    s = shut_in()
    assert [(row["station"], row["road"]) for row in s.rows("arrived", train="g1")] == [("pit", "pit.siding")]
    assert [row["complete"] for row in s.rows("cleared", section="ash-pit")] == [True]
    assert not s.rows("authority", section="ash-pit", state="returned", train="g1")
    assert may_go(s, "p2")["answer"] != "yes"
    s.on("ash-pit").read("ash-pit-ash", "e2")
    assert [(row["kind"], row["train"]) for row in s.open() if row["level"] == "danger"] == [("no-authority", "p2")]


def test_once_its_token_lies_at_the_siding_the_section_is_worked_again() -> None:
    s = shut_in()
    s.see("ash-pit-rest-pit", f"tag={UPPER}").wait(1.0)
    assert [(row["train"], row["why"]) for row in s.rows("authority", section="ash-pit", state="returned")][-1] == (
        "g1",
        "pit",
    )
    s.off("ash-pit-rest-pit").wait(1.0).see("ash-pit-rest-ash", f"tag={UPPER}").wait(
        2.0
    )  # an electric token, or carried over
    s.off("ash-pit-rest-ash").wait(2.0)
    s.on("ash-pit").read("ash-pit-ash", "e2").off("ash-loop").wait(8.0).read("ash-pit-pit", "e2").on("pit-line").off(
        "ash-pit"
    )
    assert s.rows("authority", section="ash-pit", train="p2", state="given")
    assert not [row for row in s.open() if row["level"] == "danger"]


@pytest.mark.parametrize("rule", SectionRule)
def test_every_way_has_what_ends_each_authority_and_an_operator_who_has_looked_ends_any(rule: SectionRule) -> None:
    way = WAYS[rule]
    assert way.asked in way.ends
    assert all(GIVEN_BACK in ends for ends in way.ends.values())
    objects = {how for how, ends in way.ends.items() if LAID_DOWN in ends}
    assert bool(objects) == (way.thing is not None)
    assert not any(SHUNTED_BACK in way.ends[how] for how in objects)
