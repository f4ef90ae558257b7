"""From when a fault could be noticed, and by which detectors: the rows that it has in the truth.

Rule: every fault has a row from the start: `fault`, `subject`, `what` (a sentence), `t` (from when it was so; null where it
has not come about), `until_t` (null where it stayed), `shows_t` (from when it could be noticed; null where it never could),
`by` (the detectors by which) and `times` (how often it showed). Who sees all of it says so here; the boards never do.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from bridge.core.plan import Railway
from bridge.core.plant import Detector
from bridge.virtual.faults import FAULTS, Fault
from bridge.virtual.scene import Scene

Row = dict[str, Any]


class Noticing:
    """The rows of an evening's faults. `later` names those that are not so from the start."""

    def __init__(self, scene: Scene, faults: Iterable[Fault], later: Iterable[str]) -> None:
        self._scene = scene
        self.rows: list[tuple[Fault, Row]] = [(fault, _row(fault, None if fault.name in later else 0.0)) for fault in faults]
        scene.truth.faults += [row for _, row in self.rows]
        if self.rows:
            scene.inputs.witness = self._witness

    def shows(self, row: Row, *detectors: str) -> None:
        """Now it could be noticed, by these."""
        if row["shows_t"] is None:
            row["shows_t"] = round(self._scene.now_s, 3)
        row["times"] += 1
        row["by"] += [detector for detector in detectors if detector not in row["by"]]

    def _witness(self, what: str, detector: Detector, tag: str) -> None:
        for fault, row in self.rows:
            if row["t"] is not None and self._tells(fault, what, detector, tag):
                self.shows(row, detector.id)

    def _tells(self, fault: Fault, what: str, detector: Detector, tag: str) -> bool:
        """Whether this instant could show the fault to somebody who looks for it."""
        one, stock = fault.subjects[0], self._scene.railway.stock
        match fault.name, what:
            case "weak-tag", "unread":
                return tag in stock[one].tags
            case ("dead-reader" | "deaf-reader" | "slow-reader", "unread") | ("silent-reader", "silent"):
                return detector.id == one
            case "cross-talk", "false-read":
                return detector.id in fault.subjects
            case "dirty-rail", "drop":
                return detector.covers == one
            case "dirty-engine", "drop":
                return one in self._scene.world.on[detector.covers or ""]
            case ("misplaced" | "moved-by-hand", "read"):
                return tag in stock[one].tags
            case "unlisted-tag", "read":
                return tag == self._scene.world.railway.stock[one].tags[0]
            case "swapped-tags", "read":
                return any(tag in stock[vehicle].tags for vehicle in fault.subjects)
        return False

    def shows_by_track(self, fault: Fault, row: Row, believed: Railway) -> None:
        """A road that has a detector tells at once, where it is clear of what should be there, or the other way round."""
        plant, world = self._scene.railway.plant, self._scene.world
        for stretch, detectors in plant.covering.items():
            should, does = {s.vehicle for s in believed.standing if s.place == stretch}, set(world.on[stretch])
            lit = [any(believed.stock[vehicle].detected for vehicle in vehicles) for vehicles in (should, does)]
            if lit[0] != lit[1] and fault.subjects[0] in should ^ does:
                self.shows(row, *(detector.id for detector in detectors))


def _row(fault: Fault, t_s: float | None) -> Row:
    return {
        "fault": fault.name,
        "subject": fault.subject,
        "what": FAULTS[fault.name].rpartition(" (=")[0],
        "t": t_s,
        "until_t": None,
        "shows_t": None,
        "by": [],
        "times": 0,
    }
