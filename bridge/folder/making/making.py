"""From a sketch to the five texts of a folder, or to what is wrong with it.

Rule: the texts are read by the reader that `run` uses before anybody sees them; one with a fault is no folder.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from bridge.core.plan import Railway
from bridge.core.plant import Plant
from bridge.folder.as_texts import as_texts
from bridge.folder.finding import Finding
from bridge.folder.making.ids import Ids
from bridge.folder.making.rolling import counted
from bridge.folder.making.sketch import Sketch
from bridge.folder.making.track import laid
from bridge.folder.making.wiring import wired
from bridge.folder.making.wrongs import Wrong, Wrongs
from bridge.folder.reading import read

LARGEST_SCALE = 1000.0
FASTEST_CLOCK = 60.0
LONGEST_ID = 32


@dataclass(frozen=True, slots=True)
class Made:
    """What came of a sketch: `texts` by file name, empty exactly where something is wrong; what `check` says of them."""

    wrongs: tuple[Wrong, ...]
    texts: Mapping[str, str]
    findings: tuple[Finding, ...] = ()


def made(sketch: Sketch) -> Made:
    """The folder of a sketch."""
    wrongs = Wrongs()
    name = wrongs.name("name", sketch.name, "The railway", "Alder Vale Railway")
    scale = wrongs.number("scale", re.sub(r"^\s*1\s*:", "", sketch.scale), "the scale", "87, which is 1:87", LARGEST_SCALE)
    clock = wrongs.number("clock", sketch.clock, "the pace of the clock", "4", FASTEST_CLOCK)
    track = laid(sketch, wrongs)
    rolling = counted(sketch, track, wrongs)
    wiring = wired(sketch, track, wrongs)
    if wrongs.found:
        return Made(tuple(wrongs.found), {})
    id_ = Ids("railway", longest=LONGEST_ID).of(name)
    parts = (track.stations, track.roads, track.throats, track.sections, wiring.boards, wiring.detectors)
    railway = Railway(Plant(id_, name, scale, clock, *parts), rolling.stock, tuple(rolling.standing), {}, ())
    remarks = {road: said for road, said in track.named.items() if said.lower() != track.roads[road].name}
    texts = as_texts(railway, f"{name}. Lengths are millimetres on the layout.", wiring.broker, remarks)
    found = read({file: text.encode() for file, text in texts.items()}).findings
    faults = [finding for finding in found if finding.level == "fault"]
    if faults:
        return Made(tuple(Wrong("", f"{fault.message} ({fault.text})", fault.remedy) for fault in faults), {}, found)
    return Made((), texts, found)
