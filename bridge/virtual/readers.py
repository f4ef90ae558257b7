"""Readers: which tag is in whose field, when it is read, and what the board makes of it.

Rule: the instant of a read is worked out when a tag comes into the field: at a look of the reader, or once the tag has said
its number. A tag that has left by then was never read. A board reports a tag once while it stays.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from random import Random

from bridge.core.plant import Detector, DetectorKind, Plant
from bridge.virtual.noise import Noise, garbled
from bridge.virtual.physics import REPEAT_S, CrossTalk, Physics, ReaderMake
from bridge.virtual.timeline import Timeline

Tell = Callable[[Detector, str], None]


@dataclass(slots=True)
class _Pass:
    """A tag in a field."""

    read: bool = False
    silent: bool = False


class Readers:
    """Every reader of a plant.

    `chance` decides for the physics, `dice` for `noise`. `report` and `show` hand a value to the board, as a report and as
    the state of the input; `raw` what is at the input itself; `witness(what, detector, tag)` hears "read", "unread",
    "silent" and "false-read".
    """

    def __init__(
        self,
        plant: Plant,
        physics: Physics,
        timeline: Timeline,
        chance: Random,
        dice: Random,
        *,
        noise: Callable[[], Noise],
        report: Tell,
        show: Tell,
        raw: Tell,
        witness: Callable[[str, Detector, str], None],
    ) -> None:
        self._plant, self._physics, self._timeline = plant, physics, timeline
        self._report, self._show, self._raw, self._witness = report, show, raw, witness
        self._chance, self._dice, self._noise = chance, dice, noise
        self._in_field: dict[str, dict[str, _Pass]] = {}
        self._last_seen: dict[tuple[str, str], float] = {}
        self.reads: dict[str, int] = {}
        self.read_at: dict[str, str] = {}  # tag -> the reader that said it last
        phases = Random("phases of the readers")
        found = [d for d in plant.detectors.values() if d.kind is DetectorKind.READER]
        self._phase_s = {d.id: phases.random() * physics.make_of(d.id).look_s for d in found}
        self._neighbours: dict[str, list[tuple[Detector, CrossTalk]]] = {}
        for pair in physics.crosstalk:
            for one, other in ((pair.one, pair.other), (pair.other, pair.one)):
                self._neighbours.setdefault(one, []).append((plant.detectors[other], pair))

    def came(self, detector: Detector, tag: str) -> None:
        """A tag came into a field."""
        passing = _Pass()
        self._in_field.setdefault(detector.id, {})[tag] = passing
        missed = self._dice.random() < self._noise().missed_share
        if missed or not self._happens(self._physics.heard_share(detector.id, tag)):
            return
        self._raw(detector, f"tag={tag}")
        make = self._physics.make_of(detector.id)
        read_s = self._first_read_s(detector, make)
        if make.garbled_share and self._happens(make.garbled_share):
            self._timeline.at(read_s, lambda: self._garble(detector, tag, passing))
            read_s += make.frame_s or make.look_s
        self._timeline.at(read_s, lambda: self._read(detector, tag, passing))

    def _happens(self, share: float) -> bool:
        return share >= 1.0 or self._chance.random() < share

    def _first_read_s(self, detector: Detector, make: ReaderMake) -> float:
        now_s = self._timeline.now_s
        if make.frame_s:
            return now_s + (self._chance.random() + make.equal_reads) * make.frame_s
        phase_s = self._phase_s[detector.id]
        return (ceil((now_s - phase_s) / make.look_s) + make.equal_reads - 1) * make.look_s + phase_s

    def left(self, detector: Detector, tag: str) -> None:
        """It went away again."""
        field = self._in_field.get(detector.id, {})
        passing = field.pop(tag, None)
        self._raw(detector, f"tag={next(reversed(field))}" if field else "off")
        if passing is None:
            return
        if not passing.read:
            self._witness("unread", detector, tag)
        if passing.read and not passing.silent:
            self._last_seen[detector.id, tag] = self._timeline.now_s
            self._show_field(detector)

    def forget(self, tags: set[str], reached: set[str], leaving: set[tuple[str, str]]) -> None:
        """These tags set off: a reader that is not on their way, or that they do not leave on it, has them no more."""
        for detector in self._plant.detectors.values():
            for tag in sorted(tags & set(self._in_field.get(detector.id, ()))):
                if detector.id not in reached and (detector.id, tag) not in leaving:
                    self.left(detector, tag)

    def _read(self, detector: Detector, tag: str, passing: _Pass) -> None:
        if self._in_field.get(detector.id, {}).get(tag) is not passing:
            return  # it went by between two looks, or came, went and came again
        passing.read = True
        self._witness("read", detector, tag)
        self._show_field(detector)
        make = self._physics.make_of(detector.id)
        if make.silent_after:
            each_s = self._chance.uniform(*REPEAT_S) if make.frame_s else make.look_s
            self._timeline.after(make.silent_after * each_s, lambda: self._fall_silent(detector, tag, passing))
        for other, pair in self._neighbours.get(detector.id, ()):
            if self._happens(pair.share):
                self._disturb(other, tag, pair)
        if self._is_new(detector, tag):
            self.report_tag(detector, tag)
            if self._dice.random() < self._noise().repeated_share:
                self._timeline.after(self._dice.uniform(0.3, 0.8), lambda: self.report_tag(detector, tag))

    def _is_new(self, detector: Detector, tag: str) -> bool:
        last_s = self._last_seen.get((detector.id, tag))
        return last_s is None or self._timeline.now_s - last_s >= self._physics.absent_s

    def _fall_silent(self, detector: Detector, tag: str, passing: _Pass) -> None:
        if self._in_field.get(detector.id, {}).get(tag) is passing:
            passing.silent = True
            self._witness("silent", detector, tag)
            self._last_seen[detector.id, tag] = self._timeline.now_s
            self._show_field(detector)

    def _garble(self, detector: Detector, tag: str, passing: _Pass) -> None:
        if self._in_field.get(detector.id, {}).get(tag) is passing:
            self._false(detector, garbled(tag, self._chance))

    def _disturb(self, other: Detector, tag: str, pair: CrossTalk) -> None:
        late_s = self._chance.uniform(0.001, pair.within_s)
        says = tag if self._chance.random() < 0.5 else garbled(tag, self._chance)
        self._timeline.after(late_s, lambda: self._false(other, says))

    def _false(self, detector: Detector, tag: str) -> None:
        if tag not in self._in_field.get(detector.id, {}) and self._is_new(detector, tag):
            self._last_seen[detector.id, tag] = self._timeline.now_s
            self._witness("false-read", detector, tag)
            self.report_tag(detector, tag)

    def report_tag(self, detector: Detector, tag: str) -> None:
        """A reader says a tag, whether it is there or not."""
        self.reads[tag] = self.reads.get(tag, 0) + 1
        self.read_at[tag] = detector.id
        self._report(detector, f"tag={tag}")

    def _show_field(self, detector: Detector) -> None:
        passes = self._in_field.get(detector.id, {})
        lying = [tag for tag, passing in passes.items() if passing.read and not passing.silent]
        self._show(detector, f"tag={lying[-1]}" if lying else "off")
