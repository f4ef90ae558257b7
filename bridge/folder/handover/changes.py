"""What would change against the file: who stands elsewhere than its row says, who is new in it, who has gone from it.

Rule: a vehicle that has only changed its number, as others before it have gone or come, has not moved.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from difflib import SequenceMatcher

from bridge.core.plan import Standing

MOVED, NEW, GONE = "moved", "new", "gone"


def changes(before: Iterable[Standing], after: Iterable[Standing]) -> dict[str, str]:
    """By vehicle what has become of it; who stands as before is left out."""
    was, now = _lines(before), _lines(after)
    old = {vehicle: place for place, line in was.items() for vehicle in line}
    new = {vehicle: place for place, line in now.items() for vehicle in line}
    found = {vehicle: NEW if vehicle not in old else MOVED for vehicle in new if old.get(vehicle) != new[vehicle]}
    found |= dict.fromkeys((vehicle for vehicle in old if vehicle not in new), GONE)
    for place, line in now.items():
        stayed = [vehicle for vehicle in line if vehicle not in found]
        stood = [vehicle for vehicle in was.get(place, ()) if vehicle not in found]
        found |= dict.fromkeys(_out_of_turn(stood, stayed), MOVED)
    return found


def _out_of_turn(stood: list[str], stayed: list[str]) -> Iterable[str]:
    same = SequenceMatcher(None, stood, stayed, autojunk=False).get_matching_blocks()
    kept = {vehicle for block in same for vehicle in stood[block.a : block.a + block.size]}
    return [vehicle for vehicle in stood if vehicle not in kept]


def _lines(standing: Iterable[Standing]) -> Mapping[str, list[str]]:
    found: dict[str, list[str]] = {}
    for row in sorted(standing, key=lambda s: (s.place, s.order)):
        found.setdefault(row.place, []).append(row.vehicle)
    return found
