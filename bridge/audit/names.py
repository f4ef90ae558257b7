"""How the account calls things: places, vehicles, lateness and sureness in the words of people beside the layout.

Rule: an id that the railway does not know is shown as it is; nothing is guessed and nothing is dropped.
"""

from __future__ import annotations

from bridge.core.plan import Railway

SURE_PLAIN = 0.95
SURE_PROBABLY = 0.6
ON_TIME_S = 30
BY = {
    "seen": "seen",
    "carried": "carried with its train",
    "order": "from the order of the others",
    "absence": "because nothing else was seen",
    "told": "told by somebody",
    "assumed": "assumed",
}


class Names:
    """The names of one railway."""

    def __init__(self, railway: Railway) -> None:
        self._plant = railway.plant
        self._stock = railway.stock

    def station(self, station: str | None) -> str:
        """A station's name, its id where it has none."""
        known = self._plant.stations.get(station or "")
        return (known.name or known.id) if known else (station or "")

    def place(self, place: str | None) -> str:
        """A road, throat or section, or "off"."""
        if place is None:
            return ""
        if place == "off":
            return "off the railway"
        road = self._plant.roads.get(place)
        if road is not None:
            return f"{self.station(road.station)}, {road.id.partition('.')[2]}"
        throat = self._plant.throats.get(place)
        if throat is not None:
            return f"{self.station(throat.station)}, {throat.end} end"
        return f"section {place}" if place in self._plant.sections else place

    def vehicle(self, vehicle: str | None) -> str:
        """A vehicle by the number painted on it, its id behind that where the two differ."""
        known = self._stock.get(vehicle or "")
        painted = known.painted if known else ""
        return f"{painted} ({vehicle})" if painted and painted != vehicle else (vehicle or "")


def lateness(late_s: float | None) -> str:
    """Seconds late in words, empty where nothing was booked."""
    if late_s is None:
        return ""
    if abs(late_s) < ON_TIME_S:
        return "on time"
    minutes = max(1, round(abs(late_s) / 60))
    return f"{minutes} min {'late' if late_s > 0 else 'early'}"


def surely(sure: float | None, plain: str) -> str:
    """`plain` as it may be said at this sureness (0 to 1)."""
    if sure is None or sure >= SURE_PLAIN:
        return plain
    return f"probably {plain}" if sure >= SURE_PROBABLY else f"{plain}? not seen: please look"


def per_cent(sure: float | None) -> str:
    """A sureness from 0 to 1 for a column, never rounded up to certainty."""
    if sure is None:
        return ""
    return "100 %" if sure >= 1 else f"{min(99, round(sure * 100))} %"
