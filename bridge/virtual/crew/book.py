"""What crews and signalman agree on: who has which section, throat and road, where tokens are, who has come where.

Rule: what a train or a shunt needs is asked for all at once and given all at once, so that nobody holds one thing while
waiting for another; whoever has waited longer goes first where both could go. What a departing train has left behind it is
free for others.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from bridge.core.plan import Railway, Working
from bridge.core.plant import SectionRule
from bridge.virtual.crew.ground import Ground
from bridge.virtual.crew.lists import Lists, in_order
from bridge.virtual.scene import Scene
from bridge.virtual.truth import Reason


@dataclass(frozen=True, slots=True)
class Trip:
    """A booked run of a working through a section, from the call with this index."""

    section: str
    station: str
    working: str
    call: int
    due_s: float | None = None


@dataclass(slots=True)
class _Want:
    since_s: float
    things: frozenset[str]
    asked_s: float


@dataclass
class Book:
    """The agreed state of one evening. Things are ids of sections, throats and roads; holders are engines."""

    scene: Scene
    ground: Ground
    lists: Lists
    at_work: set[str] = field(default_factory=set)
    due_out: dict[str, float | None] = field(default_factory=dict)  # engine -> when it is booked to go on from here
    at_leisure: set[str] = field(default_factory=set)  # those who wait for nothing but the clock
    arrived: set[tuple[str, str]] = field(default_factory=set)
    ended: set[str] = field(default_factory=set)
    reasons: list[Reason] = field(default_factory=list)
    stirred_s: float = 0.0

    def __post_init__(self) -> None:
        self._holders: dict[str, str] = {}
        self._leaving: dict[str, frozenset[str]] = {}
        self._wants: dict[str, _Want] = {}
        self._trips = _booked_trips(self.scene.railway)
        self._tokens: dict[str, str | None] = {
            section.id: self.scene.tokens.lies_at(section.id) or self._first_needed(section.id)
            for section in self.scene.railway.plant.sections.values()
            if section.rule in (SectionRule.TOKEN, SectionRule.STAFF_AND_TICKET)
        }

    def _first_needed(self, section: str) -> str:
        throat = self.scene.railway.plant.sections[section].from_throat
        return next((trip.station for trip in self._trips if trip.section == section), throat.partition(".")[0])

    # -- things ------------------------------------------------------------------------------------------------------

    def claim(self, engine: str, things: Iterable[str]) -> bool:
        """Give an engine everything it asks for, or nothing."""
        wanted, now_s = frozenset(things), self.scene.now_s
        mine = self._wants.get(engine)
        since_s = mine.since_s if mine is not None and mine.things == wanted else now_s
        first = all(self._goes_first(engine, since_s, wanted, other) for other in self._wants)
        if first and all(self.is_free(thing, engine) for thing in wanted):
            self._wants.pop(engine, None)
            self._holders.update(dict.fromkeys(wanted, engine))
            return True
        self._wants[engine] = _Want(since_s, wanted, now_s)
        return False

    def _goes_first(self, engine: str, since_s: float, wanted: frozenset[str], other: str) -> bool:
        theirs = self._wants[other]
        if other == engine or theirs.since_s >= since_s or not theirs.things & wanted:
            return True
        gone_quiet = self.scene.now_s - theirs.asked_s > 10.0
        return gone_quiet or not all(self.is_free(thing, other) for thing in theirs.things)

    def wants_no_more(self, engine: str) -> None:
        """It has given up asking, or asks for something else."""
        self._wants.pop(engine, None)

    def is_free(self, thing: str, engine: str) -> bool:
        """Whether nobody else has a thing."""
        holder = self._holders.get(thing)
        if holder is None or holder == engine:
            return True
        if thing in self._leaving.get(holder, ()) and self._has_left(thing, holder):
            del self._holders[thing]
            return True
        return False

    def _has_left(self, thing: str, engine: str) -> bool:
        world = self.scene.world
        run = world.runs.get(world.key_of(engine))
        if run is None:
            return False
        return all(stretch != thing for stretch, _, _ in run.rake.swept(*run.still_to_sweep(self.scene.now_s)))

    def sets_off(self, engine: str, things: Iterable[str]) -> None:
        """It is about to depart, and leaves these behind."""
        self._leaving[engine] = frozenset(things)

    def keeps_only(self, engine: str, things: Iterable[str]) -> None:
        """It needs nothing but these any more."""
        kept = frozenset(things)
        self._leaving.pop(engine, None)
        self._holders = {thing: holder for thing, holder in self._holders.items() if holder != engine or thing in kept}
        self._holders.update(dict.fromkeys(kept, engine))

    # -- tokens ------------------------------------------------------------------------------------------------------

    def token_at(self, section: str) -> str | None:
        """The station where a section's token is; None while a train has it, or where there is none."""
        return self._tokens.get(section)

    def needs_token(self, section: str) -> bool:
        """Whether a section is worked by something that a train has to have."""
        return section in self._tokens

    def move_token(self, section: str, station: str | None) -> None:
        """A train has it now (None), or it is at a station."""
        self._tokens[section] = station

    def next_trip(self, section: str, besides: str | None = None) -> Trip | None:
        """The next booked trip through a section that has not been made and still can be."""
        for trip in self._trips:
            if trip.section == section and trip.working not in (besides, *self.ended):
                return trip
        return None

    def is_due(self, section: str, besides: str, within_s: float) -> bool:
        """Whether another train is booked into a section so soon, session seconds; one that is late is not waited for."""
        now_s = self.scene.clock.shows(self.scene.now_s)
        return any(
            trip.section == section and trip.working not in (besides, *self.ended) and 0.0 <= trip.due_s - now_s < within_s
            for trip in self._trips
            if trip.due_s is not None
        )

    def made(self, trip: Trip) -> None:
        """A trip has been made."""
        if trip in self._trips:
            self._trips.remove(trip)

    # -- time --------------------------------------------------------------------------------------------------------

    def stirred(self) -> None:
        """Somebody has got on with the work."""
        self.stirred_s = self.scene.now_s

    def quiet_min(self) -> float:
        """For how many session minutes nobody has got on; 0 while somebody only waits for the clock."""
        if self.at_leisure:
            self.stirred()
        return (self.scene.now_s - self.stirred_s) * self.scene.clock.rate / 60.0

    def reason(self, working: str | None, vehicle: str | None, text: str) -> None:
        """Write down why something was not worked as booked; each once."""
        reason = Reason(working, vehicle, text)
        if reason not in self.reasons:
            self.reasons.append(reason)


def _booked_trips(railway: Railway) -> list[Trip]:
    """All runs from call to call, by their booked departures."""
    keyed: list[tuple[float, int, Trip]] = []
    for working in in_order(railway):
        time_s = float("-inf")
        for here in working.calls:
            time_s = next((t for t in (here.depart_s, here.arrive_s) if t is not None), time_s)
            trip = trip_of(railway, working, here.index)
            if trip is not None:
                keyed.append((time_s, len(keyed), trip))
    return [trip for _, _, trip in sorted(keyed, key=lambda row: row[:2])]


def trip_of(railway: Railway, working: Working, call: int) -> Trip | None:
    """The run that a working makes from a call; None from its last, or where no section leads on."""
    if call + 1 >= len(working.calls):
        return None
    here, then = working.calls[call], working.calls[call + 1]
    section = railway.plant.section_between(here.station, then.station)
    return None if section is None else Trip(section.id, here.station, working.id, call, here.depart_s)
