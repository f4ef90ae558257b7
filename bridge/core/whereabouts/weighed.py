"""The engine of inference in force: hypotheses weighed, and the one that is held shown to the rest of the core.

Rule: what is weighed is decided in `weighing`; here it only becomes places, company and beliefs (see
`bridge.core.whereabouts.Inference`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from bridge.core.conditioning import Observation
from bridge.core.learned import Learned
from bridge.core.plan import Vehicle
from bridge.core.plant import Boundary, Plant
from bridge.core.whereabouts import Belief, Change, Passage, Prior
from bridge.core.whereabouts.company import Company
from bridge.core.whereabouts.held import Held
from bridge.core.whereabouts.weighing.following import Departing, Gathering, Resting
from bridge.core.whereabouts.weighing.known import NEVER
from bridge.core.whereabouts.weighing.proof import Mark, Proof
from bridge.core.whereabouts.weighing.telling import Arriving, GivenBack, Looking
from bridge.core.whereabouts.weighing.tracker import Tracker

ASSUMED = Mark("assumed", ())
MOST_SURE = 0.999
"""Nothing that nobody has looked at is surer: what is in no hypothesis happens too."""
BEING_DRAWN, DRAWN_S = 0.9, 10.0
"""Nor is this exceeded for so long after its train moved by what stands on another stretch than its engine and was not read
just now: where a string of vehicles reaches at a moment nothing tells. Of 127 such in virtual evenings 111 were right."""
INFERRED, SAME_S = 0.998, 0.5
"""Nor, nearly so, by what was not read there itself, or stands where others were read coming or going later than by what a
report may be on its way: any reader misses some."""
BY_THE_FILE = 0.995
"""Nor by what stands where the file had it, and nothing has told of since: files are wrong, and what is missed at a siding
that is never read again is not noticed."""
IN_PASSING, PASSES_S = 0.85, 5.0
"""Nor by what came so long ago into a throat out of which there is a way that no reader tells of: it may have gone on."""
OTHERWISE = 0.4  # in so much of what was let go a vehicle stood elsewhere than held: from virtual evenings


class Weighing:
    """All hypotheses, and what is held to be so."""

    def __init__(self, plant: Plant, stock: Mapping[str, Vehicle]) -> None:
        self.tracker = Tracker(plant, stock)
        self._held = Held(plant, stock)
        self._company = Company(self._held)
        self._read_at: dict[str, float] = {}
        self._t = 0.0

    # --- what others read

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, or `off`."""
        return self._held.place(vehicle)

    def since(self, vehicle: str) -> float:
        """Host seconds when a vehicle came to its stretch."""
        return self._held.changed.get(vehicle, -1e9)

    def line(self, stretch: str) -> Sequence[str]:
        """The vehicles believed on a stretch, from its end 0."""
        return self._held.line(stretch)

    def leader(self, vehicle: str) -> str | None:
        """The engine that a vehicle goes with."""
        return self._company.leader(vehicle)

    def drawn_from(self, vehicle: str) -> str | None:
        """The road off which a vehicle was drawn by the engine that it goes with."""
        return self._company.drawn_from.get(vehicle)

    def came_from(self, vehicle: str) -> str:
        """The road that a vehicle was on last, before it left it; "" where it has left none."""
        return self._company.came_off.get(vehicle, ("", 0.0))[0]

    def joined_t(self, vehicle: str) -> float:
        """Host seconds when a vehicle began to go with its engine; long ago where it always has."""
        return self._company.joined_t.get(vehicle, -1e9)

    def read_since(self, boundary: str, t: float) -> bool:
        """True where a reader at a boundary has read a vehicle since host second `t`."""
        return self._read_at.get(boundary, -1e9) >= t

    def company(self, engine: str) -> Sequence[str]:
        """The vehicles that go with an engine, itself first, then as they stand from it."""
        return self._company.company(engine)

    def belief(self, vehicle: str) -> Belief:
        """What is believed of one vehicle."""
        held = self._held
        mark, place = held.marks.get(vehicle, ASSUMED), held.place(vehicle)
        likely = self.tracker.questions.places(vehicle).get(place, 0.0)
        firm = 1.0 - OTHERWISE * self.tracker.questions.loose.get(vehicle, 0.0)
        sure = min(likely * firm, self._most(vehicle, place, mark.by))
        return Belief(place, held.index(vehicle), held.overhang(vehicle), round(sure, 3), mark.by, mark.evidence)

    def _most(self, vehicle: str, place: str, by: str) -> float:
        """How sure anything can be of a vehicle that is held to be there by such proof."""
        if by == "told":
            return 1.0
        if place in self.tracker.yard.unread_throats and self._t - self.since(vehicle) > PASSES_S:
            return IN_PASSING
        if self._is_drawn(vehicle, place):
            return BEING_DRAWN
        if by == "assumed":
            return BY_THE_FILE
        return MOST_SURE if by == "seen" and self._is_last_read(vehicle, place) else INFERRED

    def _is_last_read(self, vehicle: str, place: str) -> bool:
        """True where nothing was read at any end of a vehicle's stretch since it was read itself."""
        until_t = self.tracker.known.reads.get(vehicle, NEVER)[1] + SAME_S
        return not any(self._read_at.get(b.id, until_t) > until_t for b in self.tracker.yard.plant.at_stretch.get(place, ()))

    def _is_drawn(self, vehicle: str, place: str) -> bool:
        """True where a vehicle stands elsewhere than its engine, and its train has just moved, but nothing has seen it."""
        lead, mark = self._company.leads.get(vehicle), self._held.marks.get(vehicle, ASSUMED)
        if lead is None or self._held.place(lead) == place:
            return False
        if mark.by == "seen" and self._t - self.since(vehicle) < DRAWN_S:
            return False
        return self._t - self._company.moved_at.get(lead, -DRAWN_S) < DRAWN_S

    def likely(self, vehicle: str) -> Mapping[str, float]:
        """Each place at which a vehicle may be, and how likely that is."""
        return self.tracker.questions.places(vehicle)

    def vehicle_of(self, tag: str) -> str | None:
        """The vehicle that carries a tag."""
        return self.tracker.tags.get(tag)

    def knows_tag(self, tag: str) -> bool:
        """True where a vehicle carries this tag."""
        return tag in self.tracker.tags

    def drain_touched(self) -> list[str]:
        """The vehicles whose belief may have changed since last asked."""
        found = list(self._held.touched)
        self._held.touched.clear()
        return found

    def drain_passages(self, t: float) -> list[Passage]:
        """What has passed readers since last asked."""
        return self.tracker.yard.quality.drain(t)

    def learned(self) -> Learned:
        """What has been learned of readers and tags, at half its weight."""
        return self.tracker.yard.quality.learned()

    def know(self, learned: Learned) -> None:
        """Start with what an earlier session has learned of what is still there."""
        yard = self.tracker.yard
        yard.quality.know(Learned(learned.readers, {v: counts for v, counts in learned.tags.items() if v in yard.stock}))

    def due(self) -> float | None:
        """When something is to be looked at again."""
        return self.tracker.deadlines.first()

    def put_off(self, by_s: float) -> None:
        """What is to be looked at again is looked at so many seconds later."""
        self.tracker.deadlines.put_off(by_s)

    # --- what happens

    def begin(self, standing: Sequence[tuple[str, str]], t: float) -> None:
        """Set everything down as the file says."""
        self.tracker.begin(standing, t)
        for weighed in self.tracker.drain():
            self._held.follow(self.tracker.yard, self.tracker.questions, weighed.agreed, weighed.proof)

    def couple(self, engine: str, rake: Sequence[str]) -> None:
        """The vehicles of a rake that stand where the engine stands go with it from now on."""
        for vehicle in rake:
            if vehicle != engine and self._company.leads.get(vehicle) is None and self.place(vehicle) == self.place(engine):
                self._company.couple(vehicle, engine)

    def tags(self) -> Mapping[str, str]:
        """Every tag that a vehicle carries, and which."""
        return self.tracker.tags

    def learn_tag(self, tag: str, vehicle: str | None) -> None:
        """A tag belongs to a vehicle from now on; None: to no vehicle."""
        if vehicle is None:
            self.tracker.tags.pop(tag, None)
        else:
            self.tracker.tags[tag] = vehicle

    def take(self, seen: Observation, prior: Prior) -> list[Change]:
        """Take one observation; what changed."""
        self._t = max(self._t, seen.t)
        self.tracker.take(seen, prior)
        return self._shown(prior)

    def pass_deadline(self, t: float, prior: Prior) -> list[Change]:
        """Look again at what was set aside for this moment."""
        self._t = max(self._t, t)
        self.tracker.pass_deadline(t, prior)
        return self._shown(prior)

    def follow(self, engine: str, section: str, t: float, n: int | None, prior: Prior) -> list[Change]:
        """The engine's train has departed into a section."""
        yard, rake = self.tracker.yard, self.company(engine)[1:]
        if not all(self.place(v) == section for v in rake):
            departing = Departing(yard, prior, engine, section, rake, t)
            self.tracker.weigh(departing.explain, Proof(t, n, None, "carried"))
        changes = self._shown(prior)
        self._shift_unseen(engine, t, n, prior)
        changes += self._shown(prior)
        self._company.part(engine, section, t, n)
        return [*changes, *self._held.drain()]

    def gather(self, engine: str, section: str, t: float, n: int | None, prior: Prior) -> list[Change]:
        """The section is clear behind the engine's train."""
        rake = [v for v in self.company(engine) if self.place(v) == section]
        if rake and engine not in rake:
            proved = prior.stretch_state(section) == "clear"
            gathering = Gathering(self.tracker.yard, prior, engine, section, rake, t, proved=proved)
            self.tracker.weigh(gathering.explain, Proof(t, n, None, "carried"))
        return self._shown(prior)

    def rest(self, engine: str, t: float, prior: Prior) -> list[Change]:
        """The session ends with the engine's train at a station."""
        plant, station = self.tracker.yard.plant, self.tracker.yard.plant.station_of(self.place(engine))
        goals = {v: prior.booked_to(v) for v in self.company(engine)[1:]}
        here = {v: goal for v, goal in goals.items() if goal is not None and plant.station_of(goal) == station}
        if here:
            resting = Resting(self.tracker.yard, prior, here)
            self.tracker.weigh(resting.explain, Proof(t, None, None, "assumed"))
        self._shift_unseen(engine, t, None, prior)
        return self._shown(prior)

    def _shift_unseen(self, engine: str, t: float, n: int | None, prior: Prior) -> None:
        """What the engine's train was to move within the station, and no reader would have told of, may have been moved."""
        yard = self.tracker.yard
        for vehicle, goal in prior.to_shift(engine).items():
            mouths = [*yard.mouths(self.place(vehicle)), *yard.mouths(goal)]
            if not any(yard.quality.has_reader(b.id) for b in mouths):
                self.tracker.weigh(Resting(yard, prior, {vehicle: goal}).explain, Proof(t, n, None, "assumed"))

    # --- what operators tell

    def told_arrived(self, engine: str, road: str, t: float, n: int, prior: Prior) -> list[Change]:
        """The train stands on a road, all that ran with it in the order in which it ran."""
        arriving = Arriving(self.tracker.yard, engine, road, self.company(engine), t)
        self.tracker.weigh(arriving.explain, Proof(t, n, engine, "told"))
        return self._shown(prior)

    def given_back(
        self, engine: str, section: str, station: str | None, t: float, n: int | None, prior: Prior
    ) -> list[Change]:
        """The train is not in a section any more, as who gives back what let it in has seen; it is at a station."""
        plant = self.tracker.yard.plant
        others = [end for end in plant.sections[section].stations if station is not None and end != station]
        left = {section, *(stretch for end in others for stretch in self.tracker.yard.stretches_of(end))}
        there = sum(likely for place, likely in self.likely(engine).items() if place in left)
        if 0.0 < there < 1.0:
            self.tracker.weigh(GivenBack(engine, left).explain, Proof(t, n, None, "order"))
        return self._shown(prior)

    def told_stands(self, vehicle: str, place: str, order: int | None, t: float, n: int, prior: Prior) -> list[Change]:
        """An operator has looked: that stands."""
        looking = Looking(self.tracker.yard, vehicle, place, order)
        self.tracker.weigh(looking.explain, Proof(t, n, vehicle, "told"))
        return self._shown(prior)

    def told_with(self, vehicle: str, engine: str | None, t: float, n: int) -> list[Change]:
        """An operator said whom a vehicle goes with."""
        old = self._company.leads.get(vehicle)
        if engine is None and old is not None:
            self._company.leave(vehicle, old, t, n)
        elif engine is not None and old != engine:
            self._company.join(vehicle, engine, self.place(vehicle), t, n)
        self._held.marks[vehicle] = Mark("told", (n,))
        return self._held.drain()

    def _shown(self, prior: Prior) -> list[Change]:
        """Hold what the hypotheses have come to; what changed by that."""
        for weighed in self.tracker.drain():
            proof, boundary = weighed.proof, weighed.boundary
            if boundary is not None:
                self._read_at[boundary.id] = proof.t
            moved = self._held.follow(self.tracker.yard, self.tracker.questions, weighed.agreed, proof)
            if proof.seen is not None and (boundary is None or self._was_at(proof.seen, boundary)):
                self._held.marks[proof.seen] = proof.mark(proof.seen)
                self.tracker.questions.seen(proof.seen)
                self._held.touched[proof.seen] = None
            self._company.regroup(moved, proof, boundary, prior)
        return self._held.drain()

    def _was_at(self, vehicle: str, boundary: Boundary) -> bool:
        """True where a vehicle is held to have been at a boundary, and the read no ghost."""
        last = self.tracker.questions.last_at(boundary.id)
        return last is not None and last.vehicle == vehicle
