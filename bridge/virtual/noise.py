"""What goes wrong with detection on any evening, by chance but by seed: the same seed, the same evening.

Rule: noise changes what is reported, never what happens.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from random import Random

NOISES = {
    "missed-reads": "one tag in twenty passes a reader unread",
    "repeats": "one read in twenty comes a second time, 0.3 to 0.8 s later",
    "ghosts": "readers now and then read a garbled tag",
    "flicker": "occupied track detectors drop out for a moment, as over dirty wheels",
    "dirty": "all four of these",
}


@dataclass(frozen=True, slots=True)
class Noise:
    """Shares of reads (0 to 1), and how often a minute for the whole railway."""

    missed_share: float = 0.0
    repeated_share: float = 0.0
    ghosts_per_min: float = 0.0
    flickers_per_min: float = 0.0


def noise_of(names: Iterable[str]) -> Noise:
    """The noise that these names ask for; other names are left to others."""
    chosen = set(names)
    noise = Noise()
    if chosen & {"missed-reads", "dirty"}:
        noise = replace(noise, missed_share=0.05)
    if chosen & {"repeats", "dirty"}:
        noise = replace(noise, repeated_share=0.05)
    if chosen & {"ghosts", "dirty"}:
        noise = replace(noise, ghosts_per_min=0.5)
    if chosen & {"flicker", "dirty"}:
        noise = replace(noise, flickers_per_min=6.0)
    return noise


def garbled(tag: str, chance: Random) -> str:
    """A tag as a disturbed reader gives it: one byte zero, another shifted."""
    digits = list(tag)
    place = chance.randrange(0, len(digits) - 3, 2)
    digits[place : place + 2] = "00"
    other = (place + 2) % len(digits)
    digits[other : other + 2] = f"{chance.randrange(256):02X}"
    return "".join(digits)
