"""What the plan, the points and the track detectors let one expect: the weak hints that the whereabouts may lean on.

Rule: a hint is never evidence. It is read from the state as it stands and remembers nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from bridge.core.movement.trains import Phase, first_section, section_after
from bridge.core.readings import stretch_state
from bridge.core.wagons import booked

if TYPE_CHECKING:
    from bridge.core.state import State

EARLY_S = 1200.0  # session seconds before its booked departure from which a train is taken to be worked


class Expected:
    """The state's hints (see `bridge.core.whereabouts.Prior`)."""

    def __init__(self, state: State) -> None:
        self._state = state

    def stretch_state(self, stretch: str) -> str:
        """occupied, clear, unknown or unwatched."""
        return stretch_state(self._state, stretch)

    def reachable(self, boundary: str) -> bool:
        """False where points lie against a boundary."""
        railway, conditioning = self._state.railway, self._state.conditioning
        assert railway is not None and conditioning is not None
        for detector in railway.plant.points_for.get(boundary, ()):
            road = boundary.partition("@")[0]
            word = conditioning.detectors[detector.id].state
            if (word == "on" and road not in detector.on) or (word == "off" and road not in detector.off):
                return False
        return True

    def call_road(self, engine: str) -> str | None:
        """The road where the engine's train is, or is booked next."""
        train = self._state.roster.current(engine)
        if train is None:
            return None
        if train.phase in (Phase.OUT, Phase.IN_SECTION):
            then = train.next_call()
            return train.road if train.phase is Phase.OUT else (then.road if then is not None else None)
        return train.road

    def next_section(self, engine: str) -> str | None:
        """The section its train is booked into next."""
        railway = self._state.railway
        assert railway is not None
        train = self._state.roster.current(engine)
        section = section_after(railway, train) if train is not None and train.phase is not Phase.ENDED else None
        if section is None:
            then = self._state.roster.following(engine)
            if then is not None and then.working is not None:
                section = first_section(railway, then.working)
        return section.id if section is not None else None

    def leader(self, vehicle: str) -> str | None:
        """The engine that a vehicle goes with, as held."""
        return None if self._state.where is None else self._state.where.leader(vehicle)

    def drawn_from(self, vehicle: str) -> str | None:
        """The road off which a vehicle was drawn by the engine that it goes with."""
        return None if self._state.where is None else self._state.where.drawn_from(vehicle)

    def holds(self, engine: str, section: str) -> bool:
        """True where its train has been given authority for a section."""
        train = self._state.roster.current(engine)
        return train is not None and train.id in self._state.authorities.grants.get(section, {})

    def stays(self, vehicle: str, engine: str) -> bool:
        """True where a row books the vehicle to stay at the station where this engine's train is."""
        return booked.stays(self._state, vehicle, engine)

    def booked_to(self, vehicle: str) -> str | None:
        """The road to which a vehicle's present move books it."""
        now = booked.open_move(self._state, vehicle)
        return None if now is None else now.move.to_road

    def keeps(self, vehicle: str, engine: str, road: str) -> bool:
        """True where a vehicle belongs to the engine's train at this call, and is not booked to stay on this road."""
        train = self._state.roster.current(engine)
        if train is None:
            return False
        now = booked.open_move(self._state, vehicle)
        aboard = now is not None and now.state == "in-train" and now.train == train.id
        return (aboard or vehicle in train.brought) and not (now is not None and aboard and now.move.to_road == road)

    def to_shift(self, engine: str) -> Mapping[str, str]:
        """What the engine's train was to move within the station where it is, and has not been seen to."""
        train = self._state.roster.current(engine)
        return {} if train is None else booked.to_shift(self._state, train)

    def wanted(self, vehicle: str) -> str | None:
        """The engine that is booked to lift this vehicle."""
        return booked.wanted(self._state, vehicle)

    def awake(self, engine: str) -> bool:
        """True where the engine's train is being worked now."""
        train = self._state.roster.current(engine)
        if train is None or train.phase is Phase.ENDED:
            then = self._state.roster.following(engine)
            call = then.working.calls[0] if then is not None and then.working is not None else None
        else:
            call = train.this_call() if train.call == 0 and train.phase is Phase.AT_STATION else None
            if call is None:
                return True
        now = self._state.clock.session_s(self._state.t)
        if call is None or now is None:
            return False
        return call.depart_s is None or now >= call.depart_s - EARLY_S
