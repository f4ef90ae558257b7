"""How a railway is to grow: its size and its variety, each a named parameter.

Rule: what is grown is a folder without a fault; a conflict in it stands only where something awkward was asked for.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.plant import SectionRule

AWKWARD = {
    "wrong-way": "moves from and to sidings at which the engine comes with the wrong end of its train",
    "buried": "wagons booked that stand behind others",
    "too-full": "more booked onto a siding than it holds",
    "no-loop": "stations at which nothing can run round, dead ends at the end of the line among them",
    "short-neck": "throats hardly longer than an engine where no section serves as neck",
    "long-train": "trains longer than a road on which they are booked",
}
"""What makes a plan hard or impossible to work, by name."""


@dataclass(frozen=True, slots=True)
class Growth:
    """The size and variety of a railway. Pairs are from and to, both included; shares are 0 to 1."""

    stations: tuple[int, int] = (3, 8)
    branch_share: float = 0.35
    """So many railways have a branch, of one or two stations."""
    double_share: float = 0.06
    """So many pairs of neighbours are joined by a section for each direction."""
    loops: tuple[int, ...] = (0, 1, 1, 1, 2)
    """Of these one is drawn for each station; where trains must cross or run round there is one at least."""
    headshunt_share: float = 0.12
    """So many throats have a headshunt."""
    sidings: tuple[int, int] = (0, 3)
    """At either end of a station."""
    siding_mm: tuple[float, float] = (320.0, 820.0)
    """How long sidings are, on a layout of the scale `line.MODELLED`; a district's are as long as its wagons need."""
    rules: tuple[SectionRule, ...] = tuple(SectionRule)
    """Of these one is drawn for each section."""
    wagons: tuple[int, int] = (3, 9)
    """At each station, beside those of trains; as many as its sidings hold where that is less."""
    rake: tuple[int, int] = (2, 6)
    """Wagons with which a goods train begins."""
    lifts: tuple[int, int] = (0, 3)
    """Wagons booked out of the sidings of a station."""
    passengers: tuple[int, int] = (1, 2)
    """Passenger trains in each district."""
    tagged_share: float | None = None
    """So many vehicles carry a tag; by kind and by chance unless said."""
    detected_share: float | None = None
    """So many vehicles are felt by track detectors; by kind and by chance unless said."""
    district: int = 0
    """So many stations have trains of their own; 0: the whole line is one district."""
    layout: str = ""
    """How detectors are placed, a name of `detecting.LAYOUTS`; by chance unless said."""
    awkward_share: float = 0.4
    """So many railways have something awkward."""


def large(stations: int) -> Growth:
    """A railway of so many stations with 40 wagons each; every four stations have trains of their own."""
    return Growth(
        stations=(stations, stations),
        branch_share=0.0,
        double_share=0.0,
        sidings=(3, 3),
        wagons=(40, 40),
        rake=(4, 6),
        lifts=(2, 4),
        passengers=(1, 1),
        district=4,
        layout="whole",
        awkward_share=0.0,
    )
