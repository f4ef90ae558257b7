"""Small yards for tests of the weighing: a plant from a few words, a prior that a test sets, and evidence by name.

Rule: evidence is explained by the engine's own explanations, and by nothing else.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from bridge.core.plan import Vehicle
from bridge.core.plant import Board, Detector, DetectorKind, Plant, Road, RoadKind, Section, SectionRule, Station, Throat
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.weighing import absence
from bridge.core.whereabouts.weighing.emptying import Emptying
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.known import Known
from bridge.core.whereabouts.weighing.occupying import Occupying
from bridge.core.whereabouts.weighing.reading import Reading
from bridge.core.whereabouts.weighing.yard import Yard

LENGTH_MM = 100.0


def plant(
    roads: Mapping[str, tuple[str, str]],
    sections: Iterable[tuple[str, str]] = (),
    readers: Iterable[str] = (),
    tracks: Iterable[str] = (),
) -> Plant:
    """`roads`: "station.road" to its kind and open ends ("up", "down", "up down"); `sections`: pairs of throats, each
    section named by both stations; `readers`: boundaries; `tracks`: stretches."""
    made = {}
    for id_, (kind, ends) in roads.items():
        station, _, name = id_.partition(".")
        made[id_] = Road(id_, station, name, RoadKind(kind), 1000.0, tuple(ends.split()))
    lines = {}
    for one, other in sections:
        id_ = f"{one.partition('.')[0]}-{other.partition('.')[0]}"
        while id_ in lines:
            id_ += "-too"
        lines[id_] = Section(id_, one, other, 5000.0, SectionRule.ONE_TRAIN)
    ends = [f"{road.station}.{end}" for road in made.values() for end in road.open]
    ends += [throat for section in lines.values() for throat in (section.from_throat, section.to_throat)]
    throats = {id_: Throat(id_, *id_.split(".")) for id_ in dict.fromkeys(ends)}
    stations = {
        name: Station(name, name, tuple(road for road in made if made[road].station == name))
        for name in dict.fromkeys(throat.station for throat in throats.values())
    }
    found = [Detector(f"track {s}", DetectorKind.TRACK, "one", n, covers=s) for n, s in enumerate(tracks)]
    found += [Detector(f"reader {b}", DetectorKind.READER, "one", 100 + n, at=b) for n, b in enumerate(readers)]
    boards = {"one": Board("one", "mqtt")}
    parts = (stations, made, throats, lines, boards, {detector.id: detector for detector in found})
    return Plant("yard", "A yard", 76.2, 4.0, *parts)


def stock(*vehicles: str, untagged: Iterable[str] = (), undetected: Iterable[str] = ()) -> dict[str, Vehicle]:
    """Vehicles whose name begins with e are engines. The tag of each is its name in capitals."""
    return {
        v: Vehicle(
            v,
            "engine" if v.startswith("e") else "wagon",
            LENGTH_MM,
            () if v in untagged else (v.upper(),),
            v not in undetected,
        )
        for v in vehicles
    }


@dataclass
class Expecting(Prior):
    """What detectors say at this moment, and what is booked, as a test sets it; nothing of it unless it does."""

    states: dict[str, str] = field(default_factory=dict)
    goals: dict[str, str] = field(default_factory=dict)
    lifted_by: dict[str, str] = field(default_factory=dict)
    shut: set[str] = field(default_factory=set)
    leads: dict[str, str] = field(default_factory=dict)
    """Vehicle to the engine that it goes with."""
    came_off: dict[str, str] = field(default_factory=dict)
    """Vehicle to the road off which its engine drew it."""
    call_roads: dict[str, str] = field(default_factory=dict)
    next_sections: dict[str, str] = field(default_factory=dict)
    authorities: set[tuple[str, str]] = field(default_factory=set)
    """(engine, section that its train has been given)."""
    kept: set[str] = field(default_factory=set)
    """Vehicles that belong to their train at this call."""
    shifts: dict[str, dict[str, str]] = field(default_factory=dict)
    """Engine to what its train is to move within the station: vehicle to road."""

    def stretch_state(self, stretch: str) -> str:
        return self.states.get(stretch, "unwatched")

    def reachable(self, boundary: str) -> bool:
        return boundary not in self.shut

    def booked_to(self, vehicle: str) -> str | None:
        return self.goals.get(vehicle)

    def wanted(self, vehicle: str) -> str | None:
        return self.lifted_by.get(vehicle)

    def stays(self, vehicle: str, engine: str) -> bool:
        return vehicle in self.goals

    def leader(self, vehicle: str) -> str | None:
        return self.leads.get(vehicle)

    def drawn_from(self, vehicle: str) -> str | None:
        return self.came_off.get(vehicle)

    def call_road(self, engine: str) -> str | None:
        return self.call_roads.get(engine)

    def next_section(self, engine: str) -> str | None:
        return self.next_sections.get(engine)

    def holds(self, engine: str, section: str) -> bool:
        return (engine, section) in self.authorities

    def keeps(self, vehicle: str, engine: str, road: str) -> bool:
        return vehicle in self.kept

    def to_shift(self, engine: str) -> Mapping[str, str]:
        return self.shifts.get(engine, {})

    def awake(self, engine: str) -> bool:
        return True


@dataclass(frozen=True)
class Evidence:
    """`kind`: read, echo (read, and another reader has said it just now), quiet, occupied, clear, settled; `subject`: the
    boundary or stretch; `vehicle`: whose tag."""

    kind: str
    subject: str
    t: float
    vehicle: str = ""


Explain = Callable[[Hypothesis, Branches], None]


def explain(yard: Yard, prior: Prior, evidence: Evidence, seen: Mapping[str, str]) -> Explain:
    """How the engine explains a piece of evidence. `seen`: vehicle to the station at which it was last read."""
    what, t = evidence.subject, evidence.t
    if evidence.kind in ("read", "echo"):
        boundary = yard.plant.boundaries[what]
        return Reading(
            yard, prior, evidence.vehicle, boundary, t, Known(dict(seen)), is_echo=evidence.kind == "echo"
        ).explain
    if evidence.kind == "quiet":
        boundary = yard.plant.boundaries[what]
        return lambda hypothesis, branches: absence.close(yard, prior, hypothesis, boundary, t - 4.0, t, branches)
    if evidence.kind == "occupied":
        return Occupying(yard, prior, what, t).explain
    emptying = Emptying(yard, prior, what, t)
    return emptying.explain if evidence.kind == "clear" else emptying.settle


def set_down(standing: Iterable[tuple[str, str]]) -> Explain:
    """Everything where it stands at the start: (vehicle, place), on each place from its end 0."""

    def explained(hypothesis: Hypothesis, branches: Branches) -> None:
        for vehicle, place in standing:
            hypothesis.stands.put(vehicle, place, 1)
        branches.add(hypothesis)

    return explained
