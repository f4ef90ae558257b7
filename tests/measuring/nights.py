"""One evening of the benchmark: on which railway, how well its readers read, where wagons truly stand, how crews work.

Rule: it depends on its `Night` and its seed alone; what the engine is told is the railway as wired and the records, neither
rates nor names of what is dead or astray.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from random import Random
from typing import Any

from bridge.core.plan import Railway
from bridge.core.plant import DetectorKind
from bridge.virtual.crew.company import begin_s, company
from bridge.virtual.crew.mistakes import chosen_mistakes, made_by
from bridge.virtual.evening import Evening
from bridge.virtual.faults import Fault
from bridge.virtual.hands import choices_by_hand
from bridge.virtual.noise import Noise, noise_of
from bridge.virtual.physics import CrossTalk, Physics
from bridge.virtual.recording import Recording
from bridge.virtual.script import Script
from bridge.wire.records import Record

from .yards import WORN, dead_readers, grown, wired

REPEATED_SHARE = 0.1
GHOST_SHARE = 0.001
ASTRAY_SHARE = 0.05
FORGETFUL = "forgetful"
STARTS = {"exact": "everything stands where the file says", "wrong": "one wagon in twenty stands elsewhere"}
CREWS = {"booked": "they do what is booked", FORGETFUL: "a wagon is not set out and another is not lifted"}
MISTAKES = ("forgotten-set-out", "missed-lift")


@dataclass(frozen=True, slots=True)
class Night:
    """Evenings of one kind. `layout` and `tracks`: names of `yards`; `missed`: so many reads (0 to 1) are missed; `start`,
    `crews`: names of `STARTS` and `CREWS`; `untagged`: a tenth of the wagons has no tag."""

    layout: str = "mouths"
    missed: float = 0.05
    tracks: str = "all"
    start: str = "exact"
    untagged: bool = False
    crews: str = "booked"


@dataclass(frozen=True, slots=True)
class Recorded:
    """What was heard on an evening, and the truth of it."""

    railway: Railway
    records: Sequence[Record]
    truth: dict[str, Any]


def recorded(night: Night, seed: int) -> Recorded:
    """Play an evening. Raises `MistakeError` where the crews have no occasion for what they are to forget."""
    railway = wired(grown(seed), night.layout, night.tracks, untagged=night.untagged, seed=seed)
    forgotten = MISTAKES if night.crews == FORGETFUL else ()
    mistakes = chosen_mistakes(forgotten, railway, seed)
    evening = Evening(
        railway,
        Script(begin_s(railway)),
        seed=seed,
        noise=Noise(night.missed, REPEATED_SHARE, flickers_per_min=noise_of(["flicker"]).flickers_per_min),
        physics=with_ghosts(railway, dead_readers(railway, seed) if night.layout == WORN else ()),
        faults=astray(railway, seed) if night.start == "wrong" else (),
        mistakes=("missed-reads", "repeats", "ghosts", "flicker", *forgotten),
    )
    evening.hire(company(evening.scene, seed, mishaps=lambda book: made_by(mistakes, book))[0])
    recording = Recording(evening)
    recording.run()
    return Recorded(railway, recording.records, json.loads(evening.truth_json()))


def with_ghosts(railway: Railway, dead: Sequence[str]) -> Physics:
    """One read in a thousand is said once more by another reader at the same throat, every second time garbled; where there
    is no other, the reader itself says it garbled first. These are dead."""
    plain, plant = Physics(), railway.plant
    at: dict[str, list[str]] = {}
    for detector in plant.detectors.values():
        if detector.kind is DetectorKind.READER:
            at.setdefault(plant.boundaries[detector.at or ""].throat, []).append(detector.id)
    pairs = [
        CrossTalk(one, other, GHOST_SHARE / (len(readers) - 1))
        for readers in at.values()
        for one, other in combinations(readers, 2)
    ]
    alone = {readers[0]: replace(plain.reader, garbled_share=GHOST_SHARE) for readers in at.values() if len(readers) == 1}
    deaf = {reader: replace(plain.reader, heard_share=0.0) for reader in dead}
    return replace(plain, readers=alone | deaf, crosstalk=tuple(pairs))


def astray(railway: Railway, seed: int) -> list[Fault]:
    """One wagon in twenty, of those in no train, stands from the start on some other siding; on each siding one at most."""
    chance = Random(f"astray {seed}")
    in_trains = {vehicle for working in railway.workings.values() for vehicle in working.rake}
    rows = [row for row in choices_by_hand(railway)[0] if row[0] not in in_trains]
    chance.shuffle(rows)
    wagons = sum(vehicle.kind == "wagon" for vehicle in railway.stock.values())
    found: dict[str, str] = {}
    for vehicle, road in rows:
        if len(found) < round(ASTRAY_SHARE * wagons) and vehicle not in found and road not in found.values():
            found[vehicle] = road
    return [Fault("misplaced", row) for row in found.items()]
