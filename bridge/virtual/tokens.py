"""Where each section's token is: on a rest at one end, or with a train.

Rule: a token is one thing in one place. At the start it lies at the end from which the first booked working needs it.
"""

from __future__ import annotations

from bridge.core.plan import Railway
from bridge.core.plant import Detector, DetectorKind
from bridge.virtual.inputs import Inputs
from bridge.virtual.world import BlockedError


class Tokens:
    """The tokens that lie on rests; those without a rest are only spoken of."""

    def __init__(self, railway: Railway, inputs: Inputs) -> None:
        self._inputs = inputs
        self._rests: dict[tuple[str, str], Detector] = {
            (d.token or "", d.station or ""): d
            for d in railway.plant.detectors.values()
            if d.kind is DetectorKind.TOKEN_REST
        }
        self._tags = {s.id: s.token_tags[0] for s in railway.plant.sections.values() if s.token_tags}
        self._at: dict[str, str | None] = {}
        for section, station in self._rests:
            first = _first_needed(railway, section) or station
            if section not in self._at and (section, first) in self._rests and section in self._tags:
                self._at[section] = first
                inputs.rest(self._rests[section, first], self._tags[section], silently=True)

    def lies_at(self, section: str) -> str | None:
        """The station where it lies; None while a train has it."""
        return self._at.get(section)

    def has_rest(self, section: str, station: str) -> bool:
        """Whether a station has a rest for a section's token."""
        return (section, station) in self._rests

    def is_out(self, section: str) -> bool:
        """Whether a token that lies on rests has been lifted off one, and laid on none since."""
        return section in self._at and self._at[section] is None

    def take(self, section: str, station: str) -> None:
        """Lift it at a station."""
        if self._at.get(section) != station:
            where = self._at.get(section)
            raise BlockedError(
                f"the token of {section} lies {'nowhere' if where is None else 'at ' + where}, not at {station}"
            )
        self._at[section] = None
        self._inputs.rest(self._rests[section, station], None)

    def lay(self, section: str, station: str) -> None:
        """Lay it down at a station."""
        if (section, station) not in self._rests or section not in self._at:
            raise BlockedError(f"{station} has no rest for the token of {section}")
        if self._at[section] is not None:
            raise BlockedError(f"the token of {section} lies at {self._at[section]} already")
        self._at[section] = station
        self._inputs.rest(self._rests[section, station], self._tags[section])


def _first_needed(railway: Railway, section: str) -> str | None:
    """The station from which the first booked working enters a section."""
    found: list[tuple[float, str]] = []
    for working in railway.workings.values():
        for call, following in zip(working.calls, working.calls[1:], strict=False):
            joining = railway.plant.section_between(call.station, following.station)
            if joining is not None and joining.id == section:
                found.append((call.depart_s if call.depart_s is not None else float("inf"), call.station))
    return min(found)[1] if found else None
