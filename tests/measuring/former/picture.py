"""The picture of the layout that the follower keeps: who stands where, who goes with whom, and by which evidence.

Rule: the picture changes by its own few movements only, and each leaves its trace: a change for the rest of the core, a mark
of how the belief came about, and the vehicles whose belief may be news. Nothing here costs more on a larger layout.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bridge.core.conditioning.deadlines import Deadlines
from bridge.core.plan import Vehicle
from bridge.core.plant import Boundary, Plant
from bridge.core.whereabouts import OFF, Change, Crossing, Joined, Left

from .lines import Lines
from .sureness import Mark

SETTLE_S = 8.0  # quiet time after which a throat that nothing occupies is taken to be empty again
STAYED_S = 1.5  # a road that still says occupied so long after its engine left holds something


@dataclass(slots=True)
class Pass:
    """A vehicle at a boundary: when, and which way it was taken to go (outward: from the throat)."""

    vehicle: str
    boundary: str
    t: float
    outward: bool


class Picture:
    """Everything believed, and the movements that change it."""

    def __init__(self, plant: Plant, stock: Mapping[str, Vehicle]) -> None:
        self.plant = plant
        self.stock = stock
        self.lines = Lines(plant)
        self.tags = {tag: vehicle.id for vehicle in stock.values() for tag in vehicle.tags}
        self.engines = {vehicle.id for vehicle in stock.values() if vehicle.kind == "engine"}
        self.leads: dict[str, str] = {}
        self.led: dict[str, dict[str, None]] = {}
        self.marks: dict[str, Mark] = {}
        self.reads: dict[str, Pass] = {}
        self.read_at: dict[str, Pass] = {}
        self.guesses: dict[str, Pass] = {}
        self.guessed_at: dict[str, float] = {}
        self.treadle_at: dict[str, float] = {}
        self.came_in: dict[tuple[str, str], float] = {}
        self.taken: dict[str, tuple[str, str, float]] = {}
        self.unproved: dict[str, str] = {}
        self.lone: dict[str, tuple[float, str]] = {}
        self.came_by: dict[str, str] = {}
        self.changed: dict[str, float] = {}
        self.stirred: dict[str, float] = {}
        self.deadlines = Deadlines()
        self.waiting: dict[str, int | None] = {}
        self.left_by: dict[str, tuple[str, str]] = {}
        self.touched: dict[str, None] = {}
        self.changes: list[Change] = []

    # --- reading it

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        return self.lines.at.get(vehicle, OFF)

    def line(self, stretch: str) -> Sequence[str]:
        """The vehicles on a stretch, from its end 0."""
        return self.lines.on.get(stretch, ())

    def leader(self, vehicle: str) -> str | None:
        """The engine that a vehicle goes with; an engine by itself is its own."""
        return self.leads.get(vehicle, vehicle if vehicle in self.engines else None)

    def company(self, engine: str) -> list[str]:
        """The vehicles that go with an engine, itself first, then as they stand from it."""
        here, row = self.place(engine), list(self.line(self.place(engine)))
        at = row.index(engine) if engine in row else 0
        rank = {v: abs(i - at) for i, v in enumerate(row)}
        mine = sorted(self.led.get(engine, ()), key=lambda v: (self.place(v) != here, rank.get(v, 999), v))
        return [engine, *mine]

    def engines_on(self, *stretches: str) -> list[str]:
        """The engines on some stretches, in the order named."""
        return [v for stretch in stretches for v in self.line(stretch) if v in self.engines]

    def engines_at(self, station: str) -> list[str]:
        """The engines at a station, on its roads and in its throats."""
        roads = self.plant.stations[station].roads if station in self.plant.stations else ()
        return self.engines_on(*roads, f"{station}.up", f"{station}.down")

    def other_end(self, boundary: Boundary, outward: bool) -> tuple[str, int, str]:
        """(whence, by which of its ends, where to) of a crossing."""
        if outward:
            return boundary.throat, boundary.throat_end, boundary.outer
        return boundary.outer, boundary.end, boundary.throat

    def waits_loose(self, throat: str) -> bool:
        """True where what lags behind in a throat is being watched already."""
        return self.deadlines.waits("loose", throat)

    def heard_at(self, boundary: str) -> float:
        """Host seconds when a treadle at a boundary was last passed, long ago where it never was."""
        return max(self.treadle_at.get(boundary, -1e9), self.lone.get(boundary, (-1e9, ""))[0])

    def overhang(self, vehicle: str) -> tuple[str, ...]:
        """What a vehicle fouls where its dead-end road holds more than its length: the throat at its open end."""
        road = self.plant.roads.get(self.place(vehicle))
        if road is None or len(road.open) != 1:
            return ()
        row = list(self.line(road.id))
        inner = row[row.index(vehicle) + 1 :] if road.open[0] == "up" else row[: row.index(vehicle)]
        taken_mm = sum(self.stock[v].length_mm for v in inner)
        if taken_mm + self.stock[vehicle].length_mm <= road.length_mm:
            return ()
        return (f"{road.station}.{road.open[0]}",)

    # --- movements

    def cross(self, vehicle: str, boundary: Boundary, outward: bool, t: float, n: int | None, by: str, how: str) -> None:
        """One vehicle, the outermost, passes a boundary."""
        start, _, goal = self.other_end(boundary, outward)
        if self.place(vehicle) != start:
            return
        self.lines.cross(vehicle, boundary, outward)
        if how == "seen":
            self.guesses.pop(vehicle, None)
        else:
            self.guesses[vehicle] = Pass(vehicle, boundary.id, t, outward)
            self.guessed_at[boundary.id] = t
        self.came_by[vehicle] = boundary.id
        if vehicle in self.engines and start in self.plant.sections:
            self.came_in[(vehicle, boundary.id)] = t
        elif outward and goal in self.plant.sections:
            self.came_in.pop((self.leader(vehicle) or vehicle, boundary.id), None)
        self._moved(vehicle, start, goal, t, n, by, how)
        if vehicle in self.engines and start in self.plant.roads and not outward:
            self.left_by[start] = (vehicle, self._rest_of(vehicle))
            self.deadlines.set("left", start, t + STAYED_S)

    def move(self, vehicle: str, goal: str, index: int | None, t: float, n: int | None, by: str, how: str) -> None:
        """One vehicle is taken from where it was believed to where it must be."""
        start = self.place(vehicle)
        self.lines.put(vehicle, goal, index)
        self._moved(vehicle, start, goal, t, n, by, how)

    def haul(self, vehicle: str, way: Sequence[Boundary], t: float, n: int | None, by: str, how: str) -> None:
        """A vehicle goes along a way, and pushes all before it ahead over each boundary."""
        for boundary in way:
            outward = self.place(vehicle) == boundary.throat
            start, end, _ = self.other_end(boundary, outward)
            if self.place(vehicle) != start:
                return
            for each in [*self.lines.ahead(vehicle, end), vehicle]:
                self.cross(each, boundary, outward, t, n, by if each == vehicle else "order", how)

    def take_for(self, vehicle: str, way: Sequence[Boundary], t: float, n: int | None, by: str, how: str) -> None:
        """A vehicle is taken for what a detector told of, and hauled there; a read may yet show that it was another."""
        self.taken[way[-1].id] = (vehicle, self.place(vehicle), t)
        self.haul(vehicle, way, t, n, by, how)

    def haul_alone(self, vehicle: str, way: Sequence[Boundary], t: float, n: int | None, by: str, how: str) -> None:
        """A vehicle goes along a way, past whatever was believed before it."""
        if not way:
            return
        here, last = self.place(vehicle), way[-1]
        for boundary in way:
            here = boundary.throat if here == boundary.outer else boundary.outer
        end = last.end if here == last.outer else last.throat_end
        self.move(vehicle, here, 0 if end == 0 else None, t, n, by, how)
        self.came_by[vehicle] = last.id

    def _moved(self, vehicle: str, start: str, goal: str, t: float, n: int | None, by: str, how: str) -> None:
        self.changed[vehicle] = t
        self.mark(vehicle, by, how, n)
        for stretch in (start, goal):
            for each in self.line(stretch):
                self.touched[each] = None
        if vehicle in self.engines:
            self.stirred[vehicle] = t
        if start != goal:
            self.changes.append(Crossing(t, n, vehicle, start, goal, by))

    def _rest_of(self, engine: str) -> str:
        """The road where more of an engine's train stands, or `off`."""
        return next((self.place(v) for v in self.company(engine)[1:] if self.place(v) in self.plant.roads), OFF)

    # --- who goes with whom

    def join(self, vehicle: str, engine: str, road: str, t: float, n: int | None) -> None:
        """A vehicle goes with an engine from now on."""
        old = self.leads.get(vehicle)
        if engine in (old, vehicle):
            return
        if old is not None:
            self.leave(vehicle, old, t, n)
        self.couple(vehicle, engine)
        self.changes.append(Joined(t, n, vehicle, engine, road))

    def couple(self, vehicle: str, engine: str) -> None:
        """The same without a word: it always went with it."""
        self.leads[vehicle] = engine
        self.led.setdefault(engine, {})[vehicle] = None
        self.touched[vehicle] = None

    def leave(self, vehicle: str, engine: str, t: float, n: int | None) -> None:
        """A vehicle no longer goes with its engine."""
        self.leads.pop(vehicle, None)
        self.led.get(engine, {}).pop(vehicle, None)
        self.touched[vehicle] = None
        self.changes.append(Left(t, n, vehicle, engine, self.place(vehicle)))

    # --- notes

    def mark(self, vehicle: str, by: str, how: str, n: int | None) -> None:
        """How the belief in a vehicle's place came about."""
        self.marks[vehicle] = Mark(by, how, () if n is None else (n,))
        self.touched[vehicle] = None

    def stir(self, throat: str, t: float) -> None:
        """Something happened in a throat; it is looked at again when it has been quiet for a while."""
        self.stirred[throat] = t
        self.deadlines.set("settle", throat, t + SETTLE_S)

    def drain(self) -> list[Change]:
        """The changes since last asked."""
        found, self.changes = self.changes, []
        return found
