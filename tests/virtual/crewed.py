"""Small railways for crews, written in a few lines each, and the evening that crews make of them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bridge.core.plan import Railway
from bridge.folder import read
from bridge.virtual.crew.book import Book
from bridge.virtual.crew.company import begin_s, company
from bridge.virtual.crew.manner import CAREFUL, Manner
from bridge.virtual.evening import Evening
from bridge.virtual.recording import Recording
from bridge.virtual.script import Script
from bridge.virtual.world import NEAR_MM

from .geometry import overlaps, pieces_now

KINDS = {"e": "engine", "w": "wagon", "b": "brake", "c": "coach"}
LENGTHS = {"e": 160, "w": 100, "b": 100, "c": 200}

HEAD = '[railway]\nid = "line"\nname = "A line"\nscale = 76.2\nclock = 4\n[[board]]\nid = "one"\nlink = "serial"\n'


def road(name: str, length: int, ends: str = "up down", kind: str = "loop") -> str:
    """A road of the station above it."""
    opened = ", ".join(f'"{end}"' for end in ends.split())
    return f'[[station.road]]\nid = "{name}"\nkind = "{kind}"\nlength = {length}\nopen = [{opened}]\n'


def siding(name: str, length: int, end: str) -> str:
    """A dead end, open at one end."""
    return road(name, length, end, "siding")


def throat(end: str, **keys: object) -> str:
    """More of a throat of the station above it."""
    return f'[[station.throat]]\nend = "{end}"\n' + "".join(f"{key} = {json.dumps(value)}\n" for key, value in keys.items())


def station(name: str, *parts: str) -> str:
    """A station with its roads and throats."""
    roads, throats = [p for p in parts if "station.road" in p], [p for p in parts if "station.throat" in p]
    return f'[[station]]\nid = "{name}"\nname = "{name.title()}"\n' + "".join((*roads, *throats))


def section(start: str, end: str, length: int = 3000, rule: str = "one-train", **keys: object) -> str:
    """A section from throat to throat, named by its stations."""
    name = f"{start.partition('.')[0]}-{end.partition('.')[0]}"
    more = "".join(f"{key} = {json.dumps(value)}\n" for key, value in keys.items())
    return f'[[section]]\nid = "{name}"\nfrom = "{start}"\nto = "{end}"\nlength = {length}\nrule = "{rule}"\n{more}'


def rest(token: str, at: str, number: int) -> str:
    """A rest for a token at a station."""
    return (
        f'[[detector]]\nid = "rest-{token}-{at}"\nkind = "token-rest"\ntoken = "{token}"\nstation = "{at}"\n'
        f'board = "one"\ninput = {number}\n'
    )


def railway(plant: Sequence[str], standing: Mapping[str, str], calls: Sequence[str], moves: Sequence[str] = ()) -> Railway:
    """A railway of these parts. `standing`: road to its vehicles, up end first; a vehicle's first letter is its kind."""
    order = sorted(plant, key=lambda part: ("[[station]]" not in part, "[[section]]" not in part))
    vehicles = [vehicle for row in standing.values() for vehicle in row.split()]
    texts = {
        "railway.toml": HEAD + "".join(order),
        "stock.csv": "vehicle,kind,length\n" + "".join(f"{v},{KINDS[v[0]]},{LENGTHS[v[0]]}\n" for v in vehicles),
        "whereabouts.csv": "vehicle,road,order\n"
        + "".join(f"{v},{where},{n}\n" for where, row in standing.items() for n, v in enumerate(row.split(), 1)),
        "timetable.csv": "working,kind,engine,station,road,arrive,depart,rake,wait_for\n" + "".join(f"{c}\n" for c in calls),
        "moves.csv": "vehicle,from,to,working,call\n" + "".join(f"{move}\n" for move in moves),
    }
    found = read({name: text.encode() for name, text in texts.items()})
    assert found.railway is not None, found.findings
    return found.railway


@dataclass
class Worked:
    """An evening that is over."""

    evening: Evening
    book: Book
    truth: dict[str, Any]
    words: list[str]

    def line(self, where: str) -> str:
        """What stands on a road in the end, up end first."""
        return " ".join(self.truth["roads"].get(where, ()))

    def done(self) -> list[bool]:
        """Of each row of moves.csv, whether it was done."""
        return [move["done"] for move in self.truth["moves"]]

    def reasons(self) -> list[str]:
        """Why what was not done was not."""
        return [str(reason) for reason in self.book.reasons]

    def events(self, says: str, **keys: str) -> list[dict[str, Any]]:
        """What happened, in order."""
        return [e for e in self.truth["events"] if e["says"] == says and all(e[key] == value for key, value in keys.items())]

    def drawn_into(self, stretch: str) -> set[str]:
        """The vehicles that came onto a stretch."""
        return {vehicle for _, vehicle, way, where in self.truth["movement"] if way == "in" and where == stretch}


def worked(plan: Railway, seed: int = 1, manner: Manner | None = CAREFUL) -> Worked:
    """Let crews work a railway's plan to its end, and look that what they did hangs together."""
    evening = Evening(plan, Script(begin_s(plan)), seed=seed)
    choice = {} if manner is None else {"manner": lambda engine, number: manner}
    crews, book = company(evening.scene, seed, **choice)  # type: ignore[arg-type]
    evening.hire(crews)
    words: list[str] = []
    recording = Recording(evening)
    told = evening.on_words
    evening.on_words = lambda said: (words.append(said), told(said))[1]
    recording.run()
    world = evening.scene.world
    assert overlaps(world, pieces_now(world, evening.timeline.now_s), NEAR_MM) == []
    truth = json.loads(evening.truth_json())
    assert [move["done"] for move in truth["moves"]] == [move.index in book.lists.done for move in plan.moves]
    assert all(move["done"] or move["why"] for move in truth["moves"])
    return Worked(evening, book, truth, words)
