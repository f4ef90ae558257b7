"""The door of the weighing: each observation explained by all hypotheses, and what they come to.

Rule: what a reader tells is weighed at once; what a track detector tells, when it has held long enough for a reader to tell
better; and when it has been quiet at a reader or in a throat for a while, what may have followed unread.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from bridge.core.conditioning import Observation
from bridge.core.conditioning.deadlines import Deadlines
from bridge.core.plan import Vehicle
from bridge.core.plant import Boundary, Detector, DetectorKind, Plant
from bridge.core.whereabouts import Prior
from bridge.core.whereabouts.lines import OFF
from bridge.core.whereabouts.weighing import absence
from bridge.core.whereabouts.weighing.emptying import Emptying
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypotheses, Hypothesis
from bridge.core.whereabouts.weighing.occupying import Occupying
from bridge.core.whereabouts.weighing.reading import Reading
from bridge.core.whereabouts.weighing.yard import Yard

CLOSES_S = 4.0  # a reader that is quiet for so long has seen the last of what passed
SETTLES_S = 10.0  # what is believed in a throat in which it has been quiet for so long stands somewhere else
READ_S = 2.5  # a vehicle that comes on to a road is read at its mouth within this, or was missed
STEADY_S = 0.5  # a stretch must stay occupied so long to tell by itself that something came on to it
THROAT_S = 1.0
RECENT_S = 20.0  # what passed a boundary longer ago tells nothing of what passes it now

Explain = Callable[[Hypothesis, Branches], None]


class Tracker:
    """All hypotheses, moved on by evidence."""

    def __init__(self, plant: Plant, stock: Mapping[str, Vehicle]) -> None:
        self.yard = Yard(plant, stock)
        self.hypotheses = Hypotheses()
        self.tags = {tag: vehicle.id for vehicle in stock.values() for tag in vehicle.tags}
        self.last_seen: dict[str, str] = {}
        self.deadlines = Deadlines()

    def begin(self, standing: Sequence[tuple[str, str]]) -> None:
        """Set everything down: (vehicle, place), on each place from its end 0."""
        only = self.hypotheses.rows[0]
        for vehicle, place in standing:
            only.stands.put(vehicle, place, 1)
            station = self.yard.plant.station_of(place)
            if station is not None:
                self.last_seen[vehicle] = station
        self._weigh(lambda hypothesis, branches: branches.add(hypothesis), 0.0)

    def take(self, seen: Observation, prior: Prior) -> None:
        """Take one observation."""
        plant = self.yard.plant
        detector = plant.detectors[seen.detector]
        boundary = plant.boundaries.get(detector.at or "")
        if detector.kind is DetectorKind.READER and seen.tag is not None and seen.moves and boundary is not None:
            self._read(seen, boundary, prior)
        elif detector.kind is DetectorKind.TRACK and detector.covers is not None:
            self._track(seen, detector, detector.covers, prior)

    def pass_deadline(self, t: float, prior: Prior) -> None:
        """Look again at what was set aside for this moment."""
        yard = self.yard
        while (found := self.deadlines.pop(t)) is not None:
            due, (kind, subject, _, _) = found
            if kind == "occupied" and prior.stretch_state(subject) == "occupied":
                self._weigh(Occupying(yard, prior, subject, due).explain, due)
            elif kind == "quiet":
                boundary = yard.plant.boundaries[subject]
                self._weigh(lambda h, out, b=boundary, t=due: absence.close(yard, prior, h, b, t, out), due)  # type: ignore[misc]
            elif kind == "settled" and prior.stretch_state(subject) != "occupied":
                self._weigh(Emptying(yard, prior, subject, due).settle, due)

    def _read(self, seen: Observation, boundary: Boundary, prior: Prior) -> None:
        vehicle = self.tags.get(seen.tag or "")
        if vehicle is None:
            return
        quality = self.yard.quality
        self._weigh(Reading(self.yard, prior, vehicle, boundary, seen.happened_t, self.last_seen).explain, seen.happened_t)
        station = self.yard.plant.station_of(boundary.throat)
        if station is not None:
            self.last_seen[vehicle] = station
        quality.was_read(vehicle, boundary.id)
        self.deadlines.set("quiet", boundary.id, seen.t + CLOSES_S)
        self._stir(boundary.throat, seen.t)

    def _track(self, seen: Observation, detector: Detector, stretch: str, prior: Prior) -> None:
        yard = self.yard
        mouths = yard.plant.at_stretch[stretch]
        for throat in {boundary.throat: None for boundary in mouths}:
            self._stir(throat, seen.t)
        if seen.state == "occupied" and seen.moves:
            wait_s = THROAT_S if stretch in yard.plant.throats else STEADY_S
            if stretch in yard.plant.roads and any(yard.quality.has_reader(b.id) for b in mouths):
                wait_s = READ_S
            self.deadlines.set("occupied", stretch, seen.t + wait_s)
        elif seen.state == "clear" and prior.stretch_state(stretch) == "clear":
            self.deadlines.drop("occupied", stretch)
            self._weigh(Emptying(yard, prior, stretch, seen.t).explain, seen.t)

    def _stir(self, throat: str, t: float) -> None:
        self.deadlines.set("settled", throat, t + SETTLES_S)

    def _weigh(self, explain: Explain, t: float) -> None:
        branches = Branches()
        for hypothesis in self.hypotheses.rows:
            explain(hypothesis, branches)
        self.hypotheses.take(branches.rows, t - RECENT_S)
        held, quality = self.hypotheses.held, self.yard.quality
        for each in held.unread:
            if quality.has_reader(each.boundary) and self.yard.stock[each.vehicle].tags:
                quality.was_unread(each.vehicle, each.boundary, self.hypotheses.chance(held))
        for hypothesis in self.hypotheses.rows:
            hypothesis.unread = ()

    # --- what is believed

    def place(self, vehicle: str) -> str:
        """The likeliest stretch of a vehicle."""
        places = self.hypotheses.places(vehicle)
        return max(places, key=lambda place: (places[place], place), default=OFF)
