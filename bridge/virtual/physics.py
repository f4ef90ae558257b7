"""What detectors, wheels, tags and readers are made of: every figure of detection, with its unit and where it is from.

Rule: nothing here happens; these are values. As they stand, everything is clean: each tag is read at the speeds of a layout
and nothing drops out. Dirt and weakness come in by name (`noise.py`, `faults.py`) or by a parameter of these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from bridge.core.plan import Vehicle
from bridge.core.plant import Detector, DetectorKind

EM4100_FRAME_S = 64 * 64 / 125_000
"""How long a 125 kHz tag takes to say its number once: 64 bits of 64 cycles each (bit rate RF/64: from memory)."""

REPEAT_S = (0.050, 0.065)
"""A reader module of 125 kHz says a tag that stays again after so long; 50 ms: a maker's forum, 65 ms: common practice, no
source. It never shows, as a board reports a tag that stays once; it says after how long a reader has fallen silent."""


@dataclass(frozen=True, slots=True)
class ReaderMake:
    """A reader: how it looks, and how well it hears."""

    field_mm: float = 30.0
    """So long is its field along the track; an assumption that a railway should measure."""
    look_s: float = 0.05
    """It looks so often (25 to 50 ms are advised; some firmware looks once a second)."""
    frame_s: float = 0.0
    """Where above 0 it does not look: the tag says its number again and again, each taking so long (`EM4100_FRAME_S`)."""
    equal_reads: int = 1
    """It believes a tag after so many equal reads one after another; careful firmware wants two."""
    heard_share: float = 1.0
    """Of tags in its field it hears so many (0 to 1): its height, metal beside the track; speed makes no difference."""
    garbled_share: float = 0.0
    """Of its reads so many (0 to 1) come garbled first, where a neighbour or a motor disturbs it."""
    silent_after: int = 0
    """Where above 0 it says a tag so often and then falls silent while the tag stays (2 to 5: seen by a builder)."""


@dataclass(frozen=True, slots=True)
class Weakness:
    """A tag that reads badly anywhere: metal behind it, tilted, far from the rail."""

    heard_share: float = 0.35
    """So many of its passes are heard at all (0 to 1), at any speed; no source, the worst of a box of tags."""
    reach_share: float = 0.5
    """It is heard over so much of a reader's field (0 to 1); no source."""


@dataclass(frozen=True, slots=True)
class CrossTalk:
    """Two readers within some hundred millimetres of each other: of what one reads, the other reads a share (0 to 1) too,
    every second one garbled. Source of the kind, not of the share: two readers 80 mm apart behind metal gave about 100
    false reads an hour."""

    one: str
    other: str
    share: float = 0.3
    within_s: float = 0.03
    """The other says it so much later at most ("within ms")."""


@dataclass(frozen=True, slots=True)
class Dirt:
    """How dirt breaks the contact of wheel and rail. Lengths of drop-outs: 20 ms to 1 s, more with short light trains, by
    rail or by vehicle (as users of detectors report, and as loss of shunt on the prototype). How often: common practice, no
    source."""

    rails: Mapping[str, float] = field(default_factory=dict)
    """Dirt of a stretch, 0 (clean) to 1 (a season unused)."""
    wheels: Mapping[str, float] = field(default_factory=dict)
    """Dirt of a vehicle's wheels, 0 to 1."""
    rail_drops_per_min: float = 40.0
    """Drop-outs a minute of one two-axled vehicle that runs on a wholly dirty rail."""
    wheel_drops_per_min: float = 40.0
    """Drop-outs a minute of one vehicle that runs alone with wholly dirty wheels."""
    standing_share: float = 0.03
    """Of a vehicle that stands so many (0 to 1) of these: its contact changes little."""
    drop_s: tuple[float, float] = (0.02, 1.0)
    """The shortest and the longest drop-out; short ones are the more frequent (their logarithm is even)."""


@dataclass(frozen=True, slots=True)
class Physics:
    """All of it. What is asked for by a name in a map and not found there is as the plain value says."""

    magnet_mm: float = 8.0
    """Over so much of its way a magnet holds a reed switch closed; assumed by the source of the closing times."""
    axle_mm: float = 8.0
    """Over so much of its way a wheel holds a treadle closed that feels any; common practice, no source."""
    bounce_s: tuple[float, float] = (0.0005, 0.001)
    """So long a closing contact bounces; a maker's glossary of reed sensors."""
    bounce_gap_s: tuple[float, float] = (0.00005, 0.002)
    """Between the edges of a bounce; the same source."""
    absent_s: float = 0.3
    """A board reports a tag that stays once, and again only after so long without it (the board lines' own rule)."""
    reader: ReaderMake = ReaderMake()
    readers: Mapping[str, ReaderMake] = field(default_factory=dict)
    tags: Mapping[str, Weakness] = field(default_factory=dict)
    crosstalk: tuple[CrossTalk, ...] = ()
    dirt: Dirt = Dirt()

    def make_of(self, reader: str) -> ReaderMake:
        """How a reader is made."""
        return self.readers.get(reader, self.reader)

    def half_reach_mm(self, detector: Detector, tag: str) -> float:
        """So far before and behind it a detector feels a magnet, an axle or this tag."""
        if detector.kind is DetectorKind.READER:
            weak = self.tags.get(tag)
            return self.make_of(detector.id).field_mm * (1.0 if weak is None else weak.reach_share) / 2.0
        return (self.axle_mm if detector.sees == "any" else self.magnet_mm) / 2.0

    def heard_share(self, reader: str, tag: str) -> float:
        """How many of a tag's passes a reader hears at all (0 to 1)."""
        weak = self.tags.get(tag)
        return self.make_of(reader).heard_share * (1.0 if weak is None else weak.heard_share)


CLEAN = Physics()

BOGIES_FROM_M = 11.5
LONG_ENGINE_FROM_M = 13.0


def axles_mm(vehicle: Vehicle, scale: float) -> tuple[float, ...]:
    """Where its axles are, from either end, in mm. Common practice, no source: wagons have two, what is longer than 11.5 m
    on the prototype runs on bogies; engines have three axles, longer ones five."""
    length_m = vehicle.length_mm * scale / 1000.0
    shares: tuple[float, ...]
    if vehicle.kind == "engine":
        shares = (0.26, 0.5, 0.74) if length_m < LONG_ENGINE_FROM_M else (0.12, 0.31, 0.5, 0.69, 0.88)
    elif length_m < BOGIES_FROM_M:
        shares = (0.22, 0.78)
    else:
        shares = (0.09, 0.23, 0.77, 0.91)
    return tuple(vehicle.length_mm * share for share in shares)
