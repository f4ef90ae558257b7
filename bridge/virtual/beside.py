"""What is believed of the railway held beside what is true this instant: for the page of a demonstration.

Rule: a vehicle is where it is said to be while any part of it is there, and a difference counts once it has stood
`STANDS_S`: sooner no board could have told. Nothing here goes back to whoever believes.

The answer (JSON): `t` (seconds of the evening), `strips` (stretch to `line`, its vehicles up end first, `partly`, those of
them that are on another stretch too, and `fresh`: it differs, and not yet for so long), `trains` (vehicle to the train that
it is coupled into, null for none), `tokens` (section to `station` where it lies, or `train` with which it goes), and
`wrong`: rows, longest standing first, with `what`, `strips` (where it shows), `since_s` (for how long it has been so),
`runs` (whether it is of something that runs), `believed`, `true`, and what it is about:
`elsewhere`     `vehicles` believed on one stretch, and truly on others together
`order`         `where`, a stretch: believed and true order of those who are believed there rightly
`not-clear`     `where` is said to be clear, and `true` is there
`not-occupied`  `where` is said to be occupied, and nothing is there
`rake`          `train`: vehicles believed to be coupled into it that are not, and those that are and are not believed to be
`section`       `where`: the same of trains in a section
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from bridge.virtual.evening import Evening

STANDS_S = 2.0

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Now:
    """How everything stands at an instant; see `chronicle.py`. `running`: vehicles on a run."""

    lines: Mapping[str, tuple[str, ...]]
    trains: Mapping[str, tuple[str | None, tuple[str, ...]]]
    sections: Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]]
    tokens: Mapping[str, tuple[str | None, str | None]]
    running: frozenset[str]

    def train_of(self, engine: str) -> str:
        """The working an engine is on, else its own id."""
        return self.trains[engine][0] or engine


class Beside:
    """Looks at an evening in the evening's thread (`look`), and answers from any one other thread."""

    def __init__(self, evening: Evening) -> None:
        self._evening, self._railway = evening, evening.railway
        self._seen: tuple[int, tuple[float, ...]] | None = None
        self._since_s: dict[tuple[str, str], float] = {}
        self._now = self._as_of_now()

    def look(self) -> None:
        """Something may have happened."""
        world, chronicle = self._evening.scene.world, self._evening.scene.chronicle
        seen = (chronicle.changes, tuple(run.start_s for run in world.runs.values()))
        if seen != self._seen:
            self._seen, self._now = seen, self._as_of_now()

    def _as_of_now(self) -> Now:
        world, chronicle = self._evening.scene.world, self._evening.scene.chronicle
        return Now(
            dict(chronicle.lines),
            dict(chronicle.trains),
            dict(chronicle.sections),
            dict(chronicle.tokens),
            running=frozenset(vehicle for run in world.runs.values() for vehicle in run.rake.ids),
        )

    def __call__(self, snapshot: Mapping[str, Any]) -> dict[str, Any]:
        """What is true, and where a snapshot (`bridge.core.view`) is wrong."""
        now, t_s = self._now, self._evening.timeline.now_s
        places = _places(now)
        trains: dict[str, str | None] = dict.fromkeys(places)
        for engine, (_, ids) in now.trains.items():
            trains.update(dict.fromkeys(ids, now.train_of(engine)))
        rows = list(self._aged(self._differences(snapshot, now, places), t_s))
        fresh = {strip for row in rows if row["since_s"] < STANDS_S for strip in row["strips"]}
        strips = {
            stretch: {"line": line, "partly": [v for v in line if len(places[v]) > 1], "fresh": stretch in fresh}
            for stretch, line in now.lines.items()
        }
        tokens = {s: {"station": at, "train": by and now.train_of(by)} for s, (at, by) in now.tokens.items()}
        wrong = _together(row for row in rows if row["since_s"] >= STANDS_S)
        return {"t": round(t_s, 3), "strips": strips, "trains": trains, "tokens": tokens, "wrong": wrong}

    def _aged(self, rows: Iterator[Row], t_s: float) -> Iterator[Row]:
        """With how long each has been so, longest first."""
        found = {(row["what"], row.get("vehicle") or row.get("train") or row["where"]): row for row in rows}
        self._since_s = {key: self._since_s.get(key, t_s) for key in found}
        for key in sorted(found, key=lambda key: (self._since_s[key], key)):
            yield {**found[key], "since_s": round(t_s - self._since_s[key], 1)}

    def _differences(self, snapshot: Mapping[str, Any], now: Now, places: Mapping[str, list[str]]) -> Iterator[Row]:
        for vehicle, told in snapshot["vehicles"].items():
            there = places.get(vehicle, [])
            if told["place"] not in there:
                strips = [place for place in (told["place"], *there) if place in now.lines]
                runs = vehicle in now.running
                yield _row("elsewhere", strips, told["place"], there, runs, vehicle=vehicle)
        for stretch in _stretches(snapshot):
            yield from self._of_stretch(stretch, now)
        for train in snapshot["trains"]:
            yield from _of_train(train, now)
        for section in snapshot["sections"]:
            where, within = section["id"], now.sections.get(section["id"], ((), ()))[0]
            if set(section["trains"]) != set(within):
                runs = bool(now.running.intersection(now.lines[where]))
                yield _row("section", [where], *_only_in(section["trains"], within), runs, where=where)

    def _of_stretch(self, told: Mapping[str, Any], now: Now) -> Iterator[Row]:
        where, line = told["id"], now.lines[told["id"]]
        runs = bool(now.running.intersection(line))
        believed, true = [v for v in told["line"] if v in line], [v for v in line if v in told["line"]]
        if believed != true and where not in self._railway.plant.throats:
            yield _row("order", [where], believed, true, runs, where=where)
        seen = [v for v in line if self._railway.stock[v].detected]
        if told["state"] == "clear" and seen:
            yield _row("not-clear", [where], [], seen, runs, where=where)
        elif told["state"] == "occupied" and not seen:
            yield _row("not-occupied", [where], [], [], runs, where=where)


def _together(rows: Iterator[Row]) -> list[Row]:
    """The rows, with vehicles that are believed at one place and are at another in one row."""
    told: dict[str, Row] = {}
    for row in rows:
        vehicle = row.pop("vehicle", None)
        if vehicle is None:
            told[f"{row['what']} {row.get('train') or row['where']}"] = row
        else:
            told.setdefault(f"{row['believed']} {row['true']}", {**row, "vehicles": []})["vehicles"].append(vehicle)
    return list(told.values())


def _row(what: str, strips: list[str], believed: object, true: object, runs: bool, **about: str) -> Row:
    return {"what": what, **about, "strips": strips, "believed": believed, "true": true, "runs": runs}


def _places(now: Now) -> dict[str, list[str]]:
    """Each vehicle's stretches."""
    places: dict[str, list[str]] = {}
    for stretch, line in now.lines.items():
        for vehicle in line:
            places.setdefault(vehicle, []).append(stretch)
    return places


def _stretches(snapshot: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    for station in snapshot["stations"]:
        yield from (*station["roads"], *station["throats"])
    yield from snapshot["sections"]


def _of_train(told: Mapping[str, Any], now: Now) -> Iterator[Row]:
    """A train that is at work, as its engine's working is: what goes with it."""
    working, ids = now.trains.get(told["engine"], (None, ()))
    if working == told["id"] and told["rake"] and set(told["rake"]) != set(ids):
        runs = told["engine"] in now.running
        yield _row("rake", [], *_only_in(told["rake"], ids), runs, train=told["id"])


def _only_in(believed: Sequence[str], true: Sequence[str]) -> tuple[list[str], list[str]]:
    return [each for each in believed if each not in true], [each for each in true if each not in believed]
