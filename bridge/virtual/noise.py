"""What goes wrong with detection on any evening: dice by name, and the dirt of a whole railway.

Rule: the same seed, the same evening; noise changes what is reported, never what happens. Dice fall evenly on everything;
dirt has its places: a few tags, engines, stretches and readers are bad, and stay bad all evening.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from random import Random

from bridge.core.plan import Railway
from bridge.core.plant import DetectorKind
from bridge.virtual.physics import Dirt, Physics, Weakness

NOISES = {
    "missed-reads": "one tag in twenty passes a reader unread",
    "repeats": "one read in twenty comes a second time, 0.3 to 0.8 s later",
    "ghosts": "readers now and then read a garbled tag",
    "flicker": "occupied track detectors drop out for a moment, as over dirty wheels",
    "dirty": "about as much of all four, where weak tags, dirty wheels, dirty rails and disturbed readers are",
}


@dataclass(frozen=True, slots=True)
class Noise:
    """Shares of reads (0 to 1), and how often a minute for the whole railway."""

    missed_share: float = 0.0
    repeated_share: float = 0.0
    ghosts_per_min: float = 0.0
    flickers_per_min: float = 0.0


def noise_of(names: Iterable[str]) -> Noise:
    """The dice that these names ask for; other names are left to others."""
    chosen = set(names)
    noise = Noise()
    if "missed-reads" in chosen:
        noise = replace(noise, missed_share=0.05)
    if chosen & {"repeats", "dirty"}:
        noise = replace(noise, repeated_share=0.05)
    if "ghosts" in chosen:
        noise = replace(noise, ghosts_per_min=0.5)
    if "flicker" in chosen:
        noise = replace(noise, flickers_per_min=6.0)
    return noise


def physics_of(names: Iterable[str], railway: Railway, seed: int) -> Physics:
    """The physics of a railway of this seed under these names."""
    return dirty(railway, Random(f"dirt {seed}")) if "dirty" in set(names) else Physics()


def dirty(railway: Railway, chance: Random) -> Physics:
    """A railway that nobody has cleaned for a while: one tag in eight is weak, one reader in six disturbed, every rail a
    little dirty and some very, engines and some wagons have dirty wheels."""
    plain = Physics()
    plant = railway.plant
    tags = {
        tag: Weakness(chance.uniform(0.4, 0.9), chance.uniform(0.5, 1.0))
        for vehicle in railway.stock.values()
        for tag in vehicle.tags
        if chance.random() < 1 / 8
    }
    readers = {
        detector.id: replace(plain.reader, heard_share=chance.uniform(0.97, 1.0), garbled_share=_disturbed(chance))
        for detector in plant.detectors.values()
        if detector.kind is DetectorKind.READER
    }
    rails = {stretch: chance.choice((0.02, 0.05, 0.05, 0.3)) for stretch in plant.at_stretch}
    wheels = {v.id: _soiled(v.kind, chance) for v in railway.stock.values()}
    return replace(plain, tags=tags, readers=readers, dirt=Dirt(rails, {v: d for v, d in wheels.items() if d}))


def _disturbed(chance: Random) -> float:
    return chance.uniform(0.2, 0.4) if chance.random() < 1 / 6 else 0.01


def _soiled(kind: str, chance: Random) -> float:
    if kind == "engine":
        return chance.uniform(0.05, 0.4)
    return chance.uniform(0.1, 0.4) if chance.random() < 1 / 6 else 0.0


def garbled(tag: str, chance: Random) -> str:
    """A tag as a disturbed reader gives it: shifted with zeros in front, or one byte zero and another changed."""
    digits = tag
    while digits == tag:
        places = len(tag) // 2
        if chance.random() < 0.5:
            shift = chance.randrange(1, max(places - 1, 2)) * 2
            digits = "0" * shift + tag[:-shift]
        else:
            zero, other = chance.sample(range(places), 2)
            pairs = [tag[n : n + 2] for n in range(0, places * 2, 2)]
            pairs[zero], pairs[other] = "00", f"{chance.randrange(256):02X}"
            digits = "".join(pairs) + tag[places * 2 :]
    return digits
