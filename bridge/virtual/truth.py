"""What really happened, written down by the mover: what the bridge's word can be held against.

Rule: nothing here is inferred. It is taken from where the vehicles are, from what the crews were told to do, and from the
script's own expectations.

The file (JSON, one object): `format` ("numbertaker-truth 1"), `railway`, `seed`, `mistakes` (chosen names), `begin_t`,
`end_t` (seconds of the capture), `vehicles` (id to `place`, `order`, `fouls`), `roads` (stretch to its vehicles, up end
first), `events`, `moves` (each row of moves.csv with `done`, and `why` not, where a crew that works by the plan knows it),
`reasons` (`working`, `vehicle`, `text`: what was not worked as booked; `vehicle` is null where it is the working),
`expected` (`kind`, `subject`, `evidence_t`: from when it shows, `by`: the detectors that show it, `due_t`: by when it should
be said, `may_follow`), `boards` (what became of boards that failed), `faults` (`noticing.py` tells the keys of a row), and
how it all went, in tables. An event has `t`, `says` and the subject keys of that outcome; `booked` times are left to the
reader of the timetable. `expected` entries whose moment never came have null times; `by` is empty where nothing but silence,
or the plan alone, tells.

The tables are lists of rows in order of time; a row of the first four says how it is from `t` on, until the next one of the
same thing (`chronicle.py`), and all begin at 0:
`lines`     [t, stretch, [vehicles with any part on it, up end first]]
`trains`    [t, engine, working or null, [what is coupled together with it, itself too, from the engine's end]]
`sections`  [t, section, [trains in it: working, else engine], [vehicles in it that no engine is coupled to]]; before its
            first row nobody is in it
`tokens`    [t, section, station where it lies or null, engine with which it goes or null]
`movement`  [t, vehicle, "in" or "out", stretch]
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bridge.core.plan import Railway
from bridge.virtual.orders import Expectation
from bridge.virtual.world import World

FORMAT = "numbertaker-truth 1"


@dataclass
class Watched:
    """An expectation and the moments that were found for it."""

    expectation: Expectation
    shown_s: float | None = None
    due_s: float | None = None
    by: tuple[str, ...] = ()
    is_past: bool = False


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a working, or one vehicle's move with it, was not worked as booked."""

    working: str | None
    vehicle: str | None
    text: str

    def __str__(self) -> str:
        who = " ".join(word for word in (self.working, self.vehicle) if word)
        return f"{who}: {self.text}"


class Truth:
    """Gathers the truth of one evening."""

    def __init__(self, railway: Railway, seed: int, mistakes: tuple[str, ...]) -> None:
        self._railway = railway
        self.events: list[dict[str, Any]] = []
        self.movement: list[tuple[float, str, str, str]] = []
        self.watched: list[Watched] = []
        self.boards: list[dict[str, Any]] = []
        self.faults: list[dict[str, Any]] = []
        self.reasons: Sequence[Reason] = ()
        self.why: Mapping[int, str] = {}  # row of moves.csv -> why it was not done
        self._mistakes = sorted(mistakes)
        self._head = {"format": FORMAT, "railway": railway.plant.id, "seed": seed, "mistakes": self._mistakes}
        self._had: dict[str, frozenset[str]] = {}  # engine -> its train's vehicles when it last came to a stand for work
        self._taken: dict[str, dict[str, tuple[float, str]]] = {}  # engine -> vehicle -> when and where it was first coupled
        self._left: dict[str, tuple[float, str]] = {}

    def as_chosen(self) -> list[str]:
        """The mistakes of this evening."""
        return list(self._mistakes)

    def event(self, t_s: float, says: str, **keys: Any) -> None:
        """Something that an outcome should tell of."""
        self.events.append({"t": round(t_s, 3), "says": says, **keys})

    def moved(self, t_s: float, vehicle: str, way: str, stretch: str) -> None:
        """A vehicle came onto a stretch ("in") or off it ("out")."""
        self.movement.append((round(t_s, 6), vehicle, way, stretch))

    def stands(self, engine: str, ids: tuple[str, ...]) -> None:
        """A train begins its work at a place with these vehicles."""
        self._had[engine] = frozenset(ids)
        self._taken[engine] = {}

    def joined(self, t_s: float, engine: str, vehicle: str, place: str) -> None:
        """A vehicle was coupled to an engine's train, at that place."""
        self._taken.setdefault(engine, {}).setdefault(vehicle, (t_s, place))

    def left(self, t_s: float, vehicle: str, place: str) -> None:
        """A vehicle was uncoupled and left, at that place."""
        self._left[vehicle] = (t_s, place)

    def leaves_off(self, t_s: float, engine: str, train: str, ids: tuple[str, ...]) -> None:
        """A train departs or ends with these vehicles: what is new was lifted, what is gone was set out.

        What it has only brought from one road to another was both.
        """
        now = frozenset(ids)
        before = self._had.get(engine, now)
        taken = self._taken.pop(engine, {})
        others = {vehicle: place for vehicle, (_, place) in taken.items() if vehicle not in before | now}
        shifted = {vehicle for vehicle, place in others.items() if self._left.get(vehicle, (t_s, place))[1] != place}
        for vehicle in sorted((now - before) | shifted):
            joined_s, place = taken.get(vehicle, (t_s, ""))
            self.event(joined_s, "lifted", vehicle=vehicle, road=place, train=train)
        for vehicle in sorted((before - now) | shifted):
            left_s, place = self._left.get(vehicle, (t_s, ""))
            self.event(left_s, "set-out", vehicle=vehicle, road=place, train=train)
        self._had[engine] = now

    def as_json(self, world: World, tables: Mapping[str, Sequence[Sequence[Any]]], begin_s: float, end_s: float) -> str:
        """The whole truth as text; `tables` are the chronicle's."""
        roads = {stretch: world.standing_on(stretch) for stretch in world.on}
        vehicles = {}
        for place, ids in roads.items():
            for order, vehicle in enumerate(ids, 1):
                vehicles[vehicle] = {"place": place, "order": order, "fouls": sorted(world.places_of(vehicle)[1:])}
        whole = {
            **self._head,
            "begin_t": round(begin_s, 6),
            "end_t": round(end_s, 6),
            "vehicles": dict(sorted(vehicles.items())),
            "roads": {stretch: ids for stretch, ids in roads.items() if ids},
            "events": sorted(self.events, key=lambda event: event["t"]),
            "moves": self._moves(),
            "reasons": [{"working": r.working, "vehicle": r.vehicle, "text": r.text} for r in self.reasons],
            "expected": [_expected(watched) for watched in self.watched],
            "boards": self.boards,
            "faults": self.faults,
            **tables,
            "movement": self.movement,
        }
        return "{\n" + ",\n".join(f"{json.dumps(key)}: {json.dumps(value)}" for key, value in whole.items()) + "\n}\n"

    def _moves(self) -> list[dict[str, Any]]:
        """Each booked move and whether it was done: rows of one vehicle one after another."""
        reached: dict[str, list[str]] = {}
        for event in sorted(self.events, key=lambda event: event["t"]):
            if event["says"] == "set-out":
                reached.setdefault(event["vehicle"], []).append(event["road"])
        rows = []
        for move in self._railway.moves:
            places = reached.get(move.vehicle, [])
            done = move.to_road in places
            if done:
                reached[move.vehicle] = places[places.index(move.to_road) + 1 :]
            rows.append(
                {
                    "vehicle": move.vehicle,
                    "from": move.from_road,
                    "to": move.to_road,
                    "working": move.working,
                    "done": done,
                    "why": None if done else self.why.get(move.index),
                }
            )
        return rows


def _expected(watched: Watched) -> dict[str, Any]:
    expectation = watched.expectation
    return {
        "kind": expectation.kind,
        "subject": {key: value.split(",") if key in ("trains", "fouls") else value for key, value in expectation.subject},
        "evidence_t": None if watched.shown_s is None else round(watched.shown_s, 3),
        "by": list(watched.by),
        "due_t": None if watched.due_s is None else round(watched.due_s, 3),
        "may_follow": list(expectation.may_follow),
    }
