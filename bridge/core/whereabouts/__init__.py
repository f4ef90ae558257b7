"""Where every vehicle is, in what order, and how surely: evidence in, beliefs out.

Rule: nothing outside this package knows how a belief was reached. The rest of the core reads `Belief`s, the changes of
stretch (`Crossing`), and who joined or left an engine (`Joined`, `Left`); an engine of inference may be put in the place
of another without anyone noticing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

from bridge.core.conditioning import Observation
from bridge.core.learned import Learned

OFF = "off"
"""The place of a vehicle that stands on no stretch."""


@dataclass(frozen=True, slots=True)
class Belief:
    """Where a vehicle is believed to be. `order` counts from 1 at end 0; `sure` is a probability; `by` the kind of proof."""

    place: str
    order: int | None
    fouls: tuple[str, ...]
    sure: float
    by: str
    evidence: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Crossing:
    """A vehicle changed stretch at host second `t` on the evidence of journal number `n`. `by` as in `Belief`."""

    t: float
    n: int | None
    vehicle: str
    start: str
    goal: str
    by: str


@dataclass(frozen=True, slots=True)
class Joined:
    """A vehicle began to move with an engine, from `road`."""

    t: float
    n: int | None
    vehicle: str
    engine: str
    road: str


@dataclass(frozen=True, slots=True)
class Left:
    """A vehicle was left on `road` while its engine was seen elsewhere."""

    t: float
    n: int | None
    vehicle: str
    engine: str
    road: str


Change = Crossing | Joined | Left


@dataclass(frozen=True, slots=True)
class Passage:
    """A vehicle with a tag passed a reader (a detector's id). `unread`: how likely it is that it was not read; 0 where it
    was."""

    reader: str
    vehicle: str
    unread: float


class Prior(Protocol):
    """What the plan lets one expect: a weak hint, never evidence."""

    def stretch_state(self, stretch: str) -> str:
        """occupied, clear, unknown or unwatched, by the track detectors of a stretch."""

    def reachable(self, boundary: str) -> bool:
        """False where points lie against a boundary."""

    def call_road(self, engine: str) -> str | None:
        """The road where the engine's train is, or is booked next."""

    def next_section(self, engine: str) -> str | None:
        """The section its train is booked into next, where it stands at a station."""

    def leader(self, vehicle: str) -> str | None:
        """The engine that a vehicle goes with, as held."""

    def drawn_from(self, vehicle: str) -> str | None:
        """The road off which a vehicle was drawn by the engine that it goes with; None where it goes with none."""

    def holds(self, engine: str, section: str) -> bool:
        """True where its train has been given authority for a section."""

    def stays(self, vehicle: str, engine: str) -> bool:
        """True where a move books the vehicle to stay at the station at which this engine's train is working."""

    def booked_to(self, vehicle: str) -> str | None:
        """The road to which a vehicle's present move books it."""

    def keeps(self, vehicle: str, engine: str, road: str) -> bool:
        """True where a vehicle belongs to the engine's train at this call, and is not booked to stay on this road."""

    def to_shift(self, engine: str) -> Mapping[str, str]:
        """What the engine's train was to move from one road to another at the station where it is, and has not been seen to:
        vehicle to the road it is booked to."""

    def wanted(self, vehicle: str) -> str | None:
        """The engine that is booked to lift this vehicle."""

    def awake(self, engine: str) -> bool:
        """True where the engine's train is being worked now: not ended, not waiting for a later hour."""


class Inference(Protocol):
    """An engine of inference over evidence."""

    def begin(self, standing: Sequence[tuple[str, str]], t: float) -> None:
        """Set everything down: (vehicle, place), on each place from its end 0."""

    def couple(self, engine: str, rake: Sequence[str]) -> None:
        """The vehicles of a rake that stand where the engine stands go with it from now on."""

    def vehicle_of(self, tag: str) -> str | None:
        """The vehicle that carries a tag."""

    def knows_tag(self, tag: str) -> bool:
        """True where a vehicle carries this tag."""

    def tags(self) -> Mapping[str, str]:
        """Every tag that a vehicle carries, and which."""

    def learn_tag(self, tag: str, vehicle: str | None) -> None:
        """A tag belongs to a vehicle from now on; None: to no vehicle."""

    def take(self, seen: Observation, prior: Prior) -> list[Change]:
        """Take one observation."""

    def pass_deadline(self, t: float, prior: Prior) -> list[Change]:
        """The moment named by `due` came."""

    def due(self) -> float | None:
        """When it wants to be woken."""

    def put_off(self, by_s: float) -> None:
        """The service did not hear for so long: what is waited for is waited for anew."""

    def belief(self, vehicle: str) -> Belief:
        """What is believed of one vehicle."""

    def likely(self, vehicle: str) -> Mapping[str, float]:
        """Each place at which a vehicle may be (`off` too), and how likely that is."""

    def line(self, stretch: str) -> Sequence[str]:
        """The vehicles believed on a stretch, from its end 0."""

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""

    def since(self, vehicle: str) -> float:
        """Host seconds when a vehicle came to its stretch."""

    def read_since(self, boundary: str, t: float) -> bool:
        """True where a reader at a boundary has read a vehicle since host second `t`."""

    def company(self, engine: str) -> Sequence[str]:
        """The vehicles that go with an engine, itself first, then by their nearness."""

    def leader(self, vehicle: str) -> str | None:
        """The engine that a vehicle goes with."""

    def drawn_from(self, vehicle: str) -> str | None:
        """The road off which a vehicle was drawn by the engine that it goes with; None where it goes with none."""

    def came_from(self, vehicle: str) -> str:
        """The road that a vehicle was on last, before it left it; "" where it has left none."""

    def joined_t(self, vehicle: str) -> float:
        """Host seconds when a vehicle began to go with its engine; long ago where it always has."""

    def follow(self, engine: str, section: str, t: float, n: int | None, prior: Prior) -> list[Change]:
        """The engine's train has departed into a section: what goes with it went too."""

    def gather(self, engine: str, section: str, t: float, n: int | None, prior: Prior) -> list[Change]:
        """The section is clear behind the engine's train: what was still believed there stands with the rest."""

    def rest(self, engine: str, t: float, prior: Prior) -> list[Change]:
        """The session ends with the engine's train at a station: what it is booked to leave there may stand there."""

    def told_arrived(self, engine: str, road: str, t: float, n: int, prior: Prior) -> list[Change]:
        """An operator said that the train has come to a road."""

    def given_back(
        self, engine: str, section: str, station: str | None, t: float, n: int | None, prior: Prior
    ) -> list[Change]:
        """What let the engine's train into a section was given back, or laid down at one end's station: it has come out."""

    def told_stands(self, vehicle: str, place: str, order: int | None, t: float, n: int, prior: Prior) -> list[Change]:
        """An operator said where a vehicle stands."""

    def told_with(self, vehicle: str, engine: str | None, t: float, n: int) -> list[Change]:
        """An operator said that a vehicle goes with an engine, or with none any more."""

    def drain_touched(self) -> list[str]:
        """The vehicles whose belief may have changed since last asked, in a steady order."""

    def drain_passages(self, t: float) -> list[Passage]:
        """What has passed readers, as far as is known by host second `t`, since last asked."""

    def learned(self) -> Learned:
        """What has been learned of readers and tags, for the session that follows: it counts half there."""

    def know(self, learned: Learned) -> None:
        """Start with what an earlier session has learned; of what is no longer there nothing is kept."""
