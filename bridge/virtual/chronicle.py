"""How things stood from instant to instant: every line of vehicles, what is coupled to which engine, who is in which
section, where each token is.

Rule: a row is written when something changes, never by the clock, and says how it is from then on; what holds at an instant
is the last row at or before it. Vehicles keep their order on a stretch, so a line changes at its ends alone; in a throat,
what hangs out of two roads by a little lies side by side, and its order there tells nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from bridge.core.plant import DetectorKind
from bridge.virtual.orders import Condition
from bridge.virtual.passing import Crossing
from bridge.virtual.rake import Rake
from bridge.virtual.tokens import Tokens
from bridge.virtual.world import World

Lines = Mapping[str, tuple[str, ...]]
"""Stretch to the vehicles with any part on it, from its end 0."""


class Chronicle:
    """Keeps the rows of one evening. `lines`, `trains` (engine to what it is coupled up as) and `tokens` are as of now;
    `changes` counts what has changed."""

    def __init__(self, world: World, workings: Mapping[str, str], tokens: Tokens) -> None:
        self._world, self._workings, self._plant = world, workings, world.railway.plant
        self._rows: dict[str, list[list[Any]]] = {"lines": [], "trains": [], "sections": [], "tokens": []}
        self.lines: dict[str, tuple[str, ...]] = dict.fromkeys(world.on, ())
        self.trains: dict[str, tuple[str | None, tuple[str, ...]]] = {}
        self.sections: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {}
        self.tokens: dict[str, tuple[str | None, str | None]] = {}
        self.changes = 0
        self._left: dict[str, str] = {}  # vehicle -> the stretch that it last went off
        self._last_off: dict[str, str] = {}  # stretch -> the vehicle that last went off it
        for stretch in world.on:
            self.set_down(0.0, stretch)
        self.coupled(0.0)
        for section in self._plant.sections:
            self._section(0.0, section)
            if (station := tokens.lies_at(section)) is not None:
                self.token(0.0, section, station, None)

    # -- what happens --------------------------------------------------------------------------------------------------

    def crossed(self, t_s: float, crossing: Crossing) -> None:
        """A vehicle came onto a stretch or off it, as it ran."""
        stretch, vehicle = crossing.stretch, crossing.vehicle.id
        line = tuple(other for other in self.lines[stretch] if other != vehicle)
        if crossing.what == "in":
            line = (*line, vehicle) if crossing.end else (vehicle, *line)
        else:
            self._left[vehicle], self._last_off[stretch] = stretch, vehicle
        self._line(t_s, stretch, line)

    def set_down(self, t_s: float, stretch: str) -> None:
        """A hand has set down what stands on a stretch, or taken from it."""
        self._line(t_s, stretch, tuple(self._world.line_on(stretch)))

    def coupled(self, t_s: float) -> None:
        """Something was coupled or parted, or an engine's train is another."""
        for rake in self._world.rakes.values():
            ids = rake_from_engine(rake)
            for engine in (vehicle.id for vehicle in rake.vehicles if vehicle.kind == "engine"):
                now = (self._workings.get(engine), ids)
                if self.trains.get(engine) != now:
                    self.trains[engine] = now
                    self._row("trains", t_s, engine, *now)
        for section in self._plant.sections:
            if self.lines[section]:
                self._section(t_s, section)

    def token(self, t_s: float, section: str, station: str | None, engine: str | None) -> None:
        """A token lies at a station now, or goes with an engine; neither where somebody else has it."""
        self.tokens[section] = (station, engine)
        self._row("tokens", t_s, section, station, engine)

    def _line(self, t_s: float, stretch: str, line: tuple[str, ...]) -> None:
        if self.lines[stretch] != line:
            self.lines[stretch] = line
            self._row("lines", t_s, stretch, line)
            if stretch in self._plant.sections:
                self._section(t_s, stretch)

    def _section(self, t_s: float, section: str) -> None:
        there = set(self.lines[section])
        trains = {self._workings.get(e, e): ids for e, (_, ids) in self.trains.items() if there.intersection(ids)}
        loose = sorted(there.difference(*trains.values()))
        now = (tuple(sorted(trains)), tuple(loose))
        if self.sections.get(section, ((), ())) != now:
            self.sections[section] = now
            self._row("sections", t_s, section, *now)

    def _row(self, table: str, t_s: float, *columns: Any) -> None:
        self.changes += 1
        self._rows[table].append([round(t_s, 6), *columns])

    # -- what is told --------------------------------------------------------------------------------------------------

    def as_tables(self) -> dict[str, list[list[Any]]]:
        """All rows, by table; of one thing several times within an instant, the last alone."""
        return {table: _last_of_instants(rows) for table, rows in self._rows.items()}

    def watchers(self, condition: Condition) -> tuple[str, ...]:
        """The detectors that tell of a condition that has just come true; none where it is not one of the railway's."""
        if condition.what == "token":
            rests = [d for d in self._plant.detectors.values() if d.kind is DetectorKind.TOKEN_REST]
            return tuple(d.id for d in rests if d.token == condition.place)
        if condition.what not in ("in", "within", "off", "clear"):
            return ()
        vehicle = condition.one or self._last_off.get(condition.place, "")
        near = {stretch for stretch, line in self.lines.items() if vehicle in line} | {self._left.get(vehicle, "")}
        found = [detector.id for detector in self._plant.covering.get(condition.place, ())]
        for boundary in self._plant.at_stretch.get(condition.place, ()):
            if {boundary.outer, boundary.throat} - {condition.place} <= near:
                found += [detector.id for detector in self._plant.standing_at.get(boundary.id, ())]
        return tuple(found)


def rake_from_engine(rake: Rake) -> tuple[str, ...]:
    """A rake's vehicles from the end at which its engine is; however it lies on the track, the same."""
    ids = rake.ids
    engines = [n for n, vehicle in enumerate(rake.vehicles) if vehicle.kind == "engine"]
    ahead, behind = engines[0] if engines else 0, len(ids) - 1 - engines[-1] if engines else 0
    return ids if (ahead, ids) <= (behind, ids[::-1]) else ids[::-1]


def _last_of_instants(rows: list[list[Any]]) -> list[list[Any]]:
    last = {(row[0], row[1]): n for n, row in enumerate(rows)}
    return [row for n, row in enumerate(rows) if last[row[0], row[1]] == n]
