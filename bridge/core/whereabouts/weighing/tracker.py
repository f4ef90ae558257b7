"""The door of the weighing: each observation explained by all hypotheses, and what they come to.

Rule: what a reader tells is weighed at once; what a track detector tells, when it has held long enough for a reader to tell
better; and when it has been quiet at a reader or in a throat for a while, what may have followed unread.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import exp
from typing import NamedTuple

from bridge.core.conditioning import Observation
from bridge.core.conditioning.deadlines import Deadlines
from bridge.core.plan import Vehicle
from bridge.core.plant import Boundary, Detector, DetectorKind, Plant
from bridge.core.whereabouts import OFF, Prior
from bridge.core.whereabouts.weighing import absence
from bridge.core.whereabouts.weighing.agreeing import Agreed
from bridge.core.whereabouts.weighing.chances import AGAIN_S, ECHO_S
from bridge.core.whereabouts.weighing.emptying import Emptying
from bridge.core.whereabouts.weighing.following import DRAWN_UNSEEN, Resting
from bridge.core.whereabouts.weighing.hypotheses import Branches, Hypothesis
from bridge.core.whereabouts.weighing.known import Known
from bridge.core.whereabouts.weighing.lying import Lying
from bridge.core.whereabouts.weighing.occupying import Occupying
from bridge.core.whereabouts.weighing.proof import Proof
from bridge.core.whereabouts.weighing.questions import Explain, Questions
from bridge.core.whereabouts.weighing.reading import Reading
from bridge.core.whereabouts.weighing.spacing import SPACED, Read, Spacing, on_end
from bridge.core.whereabouts.weighing.treading import FRESH_S, TrainPassed, Treading
from bridge.core.whereabouts.weighing.yard import Yard

CLOSES_S = 4.0  # a reader that is quiet for so long has seen the last of what passed
LONGEST_S = 15.0  # a train stands across a section end so long at most
SETTLES_S = 10.0  # what is believed in a throat in which it has been quiet for so long stands somewhere else
FOULED_S = 25.0  # the same where its detector still says occupied
IDLE_S = 20.0  # where nothing was seen for so long, a train has to set off first
READ_S = 2.5  # a vehicle that comes on to a road is read at its mouth within this, or was missed
STATED_S = 1.5  # boards say how things stand within this after a start
STEADY_S = 0.5  # a stretch must stay occupied so long to tell by itself that something came on to it
THROAT_S = 1.0
OUT_S = 1.5  # what goes out into a section is read at its end within this, or was missed
RECENT_S = 20.0  # what passed a boundary longer ago tells nothing of what passes it now


class Shown(NamedTuple):
    """A piece of evidence was weighed: what may be otherwise now, what it proves, and at which boundary one was read."""

    agreed: Agreed
    proof: Proof
    boundary: Boundary | None = None


class Tracker:
    """All hypotheses, moved on by evidence."""

    def __init__(self, plant: Plant, stock: Mapping[str, Vehicle]) -> None:
        self.yard = Yard(plant, stock)
        mute = frozenset(b for b in plant.boundaries if not plant.standing_at.get(b))
        self.questions = Questions(mute, self.yard.told_of)
        self.tags = {tag: vehicle.id for vehicle in stock.values() for tag in vehicle.tags}
        self.lying = Lying()
        self.known = Known()
        self.trodden: dict[str, float] = {}
        self.stirred: dict[str, float] = {}
        """Throat to when something was last seen there."""
        self.offered: dict[str, str] = {}
        """Vehicle to the engine that may have drawn it off unseen: that is weighed once."""
        self.quiet_since: dict[str, float] = {}
        """Boundary to when something was last read there."""
        self.waits: dict[str, tuple[float, int | None, frozenset[str]]] = {}
        """Stretch that has become occupied to when, the journal number that told so, and the throats in which nothing had
        been seen for long, until it is weighed."""
        self.passing: dict[str, tuple[Read, ...]] = {}
        """Reader to the last that it has read on end, the latest last."""
        self.deadlines = Deadlines()
        self.weighed: list[Shown] = []

    def begin(self, standing: Sequence[tuple[str, str]], t: float) -> None:
        """Set everything down: (vehicle, place), on each place from its end 0."""

        def set_down(hypothesis: Hypothesis, branches: Branches) -> None:
            begun = hypothesis.branch(0.0)
            begun.stands.set_down(standing)
            branches.add(begun)

        for vehicle, place in standing:
            station = self.yard.plant.station_of(place)
            if station is not None:
                self.known.stations[vehicle] = station
        self._weigh(set_down, Proof(t, None, None, "assumed"))

    def take(self, seen: Observation, prior: Prior) -> None:
        """Take one observation."""
        plant = self.yard.plant
        detector = plant.detectors[seen.detector]
        boundary = plant.boundaries.get(detector.at or "")
        if detector.kind is DetectorKind.READER and seen.tag is not None and seen.moves and boundary is not None:
            self._read(seen, boundary, prior)
        elif detector.kind is DetectorKind.TRACK and detector.covers is not None:
            self._track(seen, detector, detector.covers, prior)
        elif detector.kind is DetectorKind.TREADLE and boundary is not None:
            if seen.moves:
                self._treadle(seen, detector, boundary, prior)
            elif seen.state == "passed":
                passed = TrainPassed(boundary, seen.happened_t)
                self._weigh(passed.explain, Proof(seen.t, seen.n, None, "order"), seen.happened_t)

    def pass_deadline(self, t: float, prior: Prior) -> None:
        """Look again at what was set aside for this moment."""
        yard = self.yard
        while (found := self.deadlines.pop(t)) is not None:
            due, (kind, subject, _, _) = found
            if kind == "occupied" and prior.stretch_state(subject) == "occupied":
                if self._is_unstated(subject, due, prior):
                    self.deadlines.set("occupied", subject, due + STEADY_S)
                    continue
                since_t, n, idle = self.waits.pop(subject)
                self._weigh(Occupying(yard, prior, subject, since_t, idle).explain, Proof(since_t, n, None, "order"))
            elif kind == "quiet":
                self._close(yard.plant.boundaries[subject], due, prior)
            elif kind == "settled":
                self._settle(subject, due, prior)

    def _is_unstated(self, stretch: str, t: float, prior: Prior) -> bool:
        """True where the throats by which something would come have not been stated yet, as just after a start."""
        mouths = self.yard.mouths(stretch)
        return t < self.waits[stretch][0] + STATED_S and any(prior.stretch_state(b.throat) == "unknown" for b in mouths)

    def _settle(self, throat: str, t: float, prior: Prior) -> None:
        """It has been quiet in a throat: what still occupies it may be something that fouls it."""
        is_occupied = prior.stretch_state(throat) == "occupied"
        until_t = round(self.stirred[throat] + FOULED_S, 6)  # to the same figures as a deadline has
        if is_occupied and t < until_t:
            self.deadlines.set("settled", throat, until_t)
            return
        emptying = Emptying(self.yard, prior, throat, t)
        explain = emptying.settle_although_occupied if is_occupied else emptying.settle
        self._weigh(explain, Proof(t, None, None, "carried"), part=True)
        self._draw_off(throat, t, prior)

    def _draw_off(self, throat: str, t: float, prior: Prior) -> None:
        """Something was done at one end of a station: what a train there is to lift from a siding that cannot tell may have
        been drawn off by now, and wait on its road."""
        yard = self.yard
        for siding in (b.outer for b in yard.plant.at_stretch[throat] if b.outer in yard.sidings):
            if any(yard.quality.has_reader(b.id) for b in yard.mouths(siding)):
                continue
            for vehicle in self.questions.line(siding):
                engine = prior.wanted(vehicle)
                road = prior.call_road(engine) if engine is not None else None
                if engine is None or road is None or self.offered.get(vehicle) == engine:
                    continue
                if yard.plant.station_of(self.questions.place(engine)) == yard.plant.station_of(throat):
                    self.offered[vehicle] = engine
                    resting = Resting(yard, prior, {vehicle: road}, DRAWN_UNSEEN)
                    self._weigh(resting.explain, Proof(t, None, None, "assumed"), part=True)

    def _close(self, boundary: Boundary, t: float, prior: Prior) -> None:
        """It has been quiet at a reader: once what came by it cannot be about to move on, the rest is not coming."""
        since_t, yard = self.quiet_since[boundary.id], self.yard
        is_limit = boundary.outer in yard.plant.sections
        if is_limit and prior.stretch_state(boundary.throat) == "occupied" and t < since_t + LONGEST_S:
            self.deadlines.set("quiet", boundary.id, t + CLOSES_S)
            return
        self._weigh(
            lambda hypothesis, branches: absence.close(yard, prior, hypothesis, boundary, since_t, t, branches),
            Proof(t, None, None, "order"),
            part=True,
        )

    def _read(self, seen: Observation, boundary: Boundary, prior: Prior) -> None:
        vehicle = self.tags.get(seen.tag or "")
        if vehicle is None or self.lying.lies(seen.tag or "", boundary.id, seen.happened_t):
            return
        quality, last = self.yard.quality, self.known.reads.get(vehicle)
        is_echo = last is not None and last[0] != boundary.id and abs(seen.happened_t - last[1]) < ECHO_S
        is_again = last is not None and last[0] == boundary.id and 0.0 <= seen.happened_t - last[1] < AGAIN_S
        reading = Reading(
            self.yard, prior, vehicle, boundary, seen.happened_t, self.known, is_echo=is_echo, is_again=is_again
        )
        explain = reading.explain if is_echo else self._spaced(seen, vehicle, boundary, reading.explain)
        self._weigh(explain, Proof(seen.t, seen.n, vehicle, "order"), seen.happened_t, boundary=boundary)
        self.known.reads[vehicle] = (boundary.id, seen.happened_t)
        station = self.yard.station_of(boundary.throat)
        if station is not None:
            self.known.stations[vehicle] = station
        quality.was_read(vehicle, boundary.id, seen.detector, seen.happened_t)
        self.quiet_since[boundary.id] = seen.happened_t
        self.deadlines.set("quiet", boundary.id, seen.t + CLOSES_S)
        self._stir(boundary.throat, seen.t)

    def _spaced(self, seen: Observation, vehicle: str, boundary: Boundary, explain: Explain) -> Explain:
        """The same explanation, weighed by the times too where others were read on end before."""
        before = self.passing.get(seen.detector, ())
        reads = self.passing[seen.detector] = on_end(before, vehicle, seen.happened_t)
        is_one_more = len(reads) == SPACED and reads != before
        return Spacing(self.yard, boundary, reads, explain).explain if is_one_more else explain

    def _track(self, seen: Observation, detector: Detector, stretch: str, prior: Prior) -> None:
        yard = self.yard
        mouths = yard.plant.at_stretch[stretch]
        throats = dict.fromkeys(boundary.throat for boundary in mouths)
        idle = frozenset(throat for throat in throats if seen.t - self.stirred.get(throat, -1e9) > IDLE_S)
        for throat in throats:
            self._stir(throat, seen.t)
        if seen.state == "occupied" and seen.moves:
            self._occupied(seen, stretch, idle, prior)
        elif seen.state == "clear" and prior.stretch_state(stretch) == "clear":
            self.deadlines.drop("occupied", stretch)
            self._weigh(Emptying(yard, prior, stretch, seen.t).explain, Proof(seen.t, seen.n, None, "order"))
            if stretch in yard.plant.throats:
                self._draw_off(stretch, seen.t, prior)

    def _occupied(self, seen: Observation, stretch: str, idle: frozenset[str], prior: Prior) -> None:
        """A stretch has become occupied: weighed at once where the throat by which something comes says so too, unless a
        reader will tell better who it is."""
        yard = self.yard
        mouths = yard.mouths(stretch)
        busy = [b for b in mouths if prior.stretch_state(b.throat) == "occupied"]
        read = any(yard.quality.has_reader(b.id) for b in (busy or mouths))
        if stretch in yard.plant.throats:
            limits = (b for b in yard.plant.at_stretch[stretch] if b.outer in yard.plant.sections)
            wait_s = READ_S if any(yard.quality.has_reader(b.id) for b in limits) else THROAT_S
        elif stretch in yard.plant.roads and read:
            wait_s = READ_S
        elif not busy:
            wait_s = STEADY_S
        else:
            wait_s = OUT_S if read else 0.0
        self.deadlines.drop("occupied", stretch)
        if wait_s:
            self.waits[stretch] = (seen.t, seen.n, idle)
            self.deadlines.set("occupied", stretch, seen.t + wait_s)
        else:
            self._weigh(Occupying(yard, prior, stretch, seen.t, idle).explain, Proof(seen.t, seen.n, None, "order"))

    def _treadle(self, seen: Observation, detector: Detector, boundary: Boundary, prior: Prior) -> None:
        """Of two treadles at a boundary the one that is passed first tells whence; passings on end are of one train."""
        self._stir(boundary.throat, seen.t)
        last = self.trodden.get(boundary.id)
        self.trodden[boundary.id] = seen.t
        sees = detector.sees or "any"
        if sees != "tail" and last is not None and seen.t - last < FRESH_S:
            return
        inward = None
        if detector.side is not None:
            inward = (detector.side == "up") == (boundary.throat_end == 0)
        treading = Treading(self.yard, prior, boundary, seen.happened_t, sees=sees, inward=inward)
        self._weigh(treading.explain, Proof(seen.t, seen.n, None, "order"), seen.happened_t)

    def drain(self) -> list[Shown]:
        """What was weighed since last asked."""
        found, self.weighed = self.weighed, []
        return found

    def _stir(self, throat: str, t: float) -> None:
        self.stirred[throat] = t
        self.deadlines.set("settled", throat, t + SETTLES_S)

    def weigh(self, explain: Explain, proof: Proof) -> None:
        """Weigh what comes from elsewhere: what operators tell, and what follows from how trains run."""
        self._weigh(explain, proof, part=True)

    def _weigh(
        self,
        explain: Explain,
        proof: Proof,
        happened_t: float | None = None,
        *,
        part: bool = False,
        boundary: Boundary | None = None,
    ) -> None:
        t = proof.t if happened_t is None else happened_t
        asks = None if boundary is None else boundary.id
        found = self.questions.weigh(explain, t - RECENT_S, part=part, asks=asks)
        self.weighed.append(Shown(found.agreed, proof, boundary))
        held, quality = found.held, self.yard.quality
        for each in held.unread:
            if quality.has_reader(each.boundary) and self.yard.stock[each.vehicle].tags:
                quality.was_unread(each.vehicle, each.boundary, exp(held.weight), t)
        for hypothesis in found.rows:
            hypothesis.unread = ()

    # --- what is believed

    def place(self, vehicle: str) -> str:
        """The likeliest stretch of a vehicle."""
        places = self.questions.places(vehicle)
        return max(places, key=lambda place: (places[place], place), default=OFF)
