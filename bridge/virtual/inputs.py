"""From what happens on the track to what the boards report: each detector's own physics, and noise.

Rule: a detector knows only its own stretch, boundary or contact. Binary inputs are debounced by their board; a reader looks
every `POLL_S` and reports a tag once while it stays.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from math import ceil
from random import Random

from bridge.core.plan import Vehicle
from bridge.core.plant import Detector, DetectorKind, Plant
from bridge.virtual.board import DEBOUNCE_S, Board
from bridge.virtual.noise import Noise, garbled
from bridge.virtual.sensing import ABSENT_S, POLL_S
from bridge.virtual.timeline import Timeline
from bridge.wire.lines import BoardLine

Send = Callable[[Board, BoardLine], None]


class Inputs:
    """Every detector of a plant on its board. `on` is the world's: which vehicles are on which stretch."""

    def __init__(
        self,
        plant: Plant,
        boards: Mapping[str, Board],
        on: Mapping[str, Mapping[str, Vehicle]],
        timeline: Timeline,
        *,
        send: Send,
    ) -> None:
        self._plant, self._boards, self._on, self._timeline, self._send = plant, boards, on, timeline, send
        self.noise = Noise()
        self.chance = Random("no noise")
        self.on_raw: Callable[[Detector, str], None] = lambda detector, value: None
        """Hears what is at an input itself, before its board has made anything of it: for a board of other making."""
        self._raw: dict[str, bool] = {}
        self._changed_s: dict[str, float] = {}
        self._feels: dict[str, int] = {}
        self._dropped: set[str] = set()
        self._unpowered: set[str] = set()
        self._in_field: dict[str, dict[str, bool]] = {}  # reader -> tag -> whether it has been read
        self._last_seen: dict[tuple[str, str], float] = {}
        self.reads: dict[str, int] = {}
        phases = Random("phases of the readers")
        self._phase = {d.id: phases.random() * POLL_S for d in plant.detectors.values() if d.kind is DetectorKind.READER}
        for detector in plant.detectors.values():
            self._begin(detector)

    def _begin(self, detector: Detector) -> None:
        level = False
        if detector.kind is DetectorKind.TRACK:
            level = self._occupied(detector)
        elif detector.kind in (DetectorKind.PROOF, DetectorKind.POWER):
            level = True
        elif detector.kind not in (DetectorKind.TREADLE, DetectorKind.POINTS):
            return
        self._raw[detector.id] = level != detector.invert
        self._boards[detector.board].levels[detector.input] = _word(level != detector.invert)

    # -- binary inputs -------------------------------------------------------------------------------------------------

    def stretch_changed(self, stretch: str) -> None:
        """A vehicle came onto a stretch, or off it."""
        for detector in self._plant.covering.get(stretch, ()):
            self._set(detector, self._occupied(detector))

    def switch(self, detector: Detector, on: bool) -> None:
        """A proof, power or points contact changes."""
        self._set(detector, on)
        if detector.kind is DetectorKind.POWER:
            (self._unpowered.difference_update if on else self._unpowered.update)(detector.feeds)
            for stretch in detector.feeds:
                self.stretch_changed(stretch)

    def set_road(self, throat: str, road: str) -> None:
        """The points of a throat are set for a road."""
        for detector in self._plant.detectors.values():
            if detector.kind is DetectorKind.POINTS and detector.at == throat and road in (*detector.on, *detector.off):
                self.switch(detector, road in detector.on)

    def _occupied(self, detector: Detector) -> bool:
        stretch = detector.covers or ""
        if stretch in self._unpowered or detector.id in self._dropped:
            return False
        return any(vehicle.detected for vehicle in self._on[stretch].values())

    def _set(self, detector: Detector, level: bool) -> None:
        raw = level != detector.invert
        if self._raw[detector.id] == raw:
            return
        self._raw[detector.id] = raw
        self._changed_s[detector.id] = self._timeline.now_s
        self.on_raw(detector, _word(raw))
        board = self._boards[detector.board]
        edge = board.edge(self._timeline.now_s, detector.input, raw)
        if edge is not None:
            self._send(board, edge)
        changed_s = self._timeline.now_s
        self._timeline.after(DEBOUNCE_S, lambda: self._settle(detector, raw, changed_s))

    def _settle(self, detector: Detector, raw: bool, changed_s: float) -> None:
        board = self._boards[detector.board]
        if (
            self._changed_s[detector.id] == changed_s
            and self._raw[detector.id] == raw
            and board.levels[detector.input] != _word(raw)
        ):
            board.levels[detector.input] = _word(raw)
            self._report(board, detector.input, _word(raw))

    def _report(self, board: Board, number: int, value: str) -> None:
        if board.awake:
            self._send(board, board.report(self._timeline.now_s, number, value))

    # -- treadles and readers ------------------------------------------------------------------------------------------

    def felt(self, detector: Detector, tag: str) -> None:
        """A magnet, axle or tag came to a detector."""
        if detector.kind is DetectorKind.TREADLE:
            self._feels[detector.id] = self._feels.get(detector.id, 0) + 1
            self._set(detector, True)
            return
        self._in_field.setdefault(detector.id, {})[tag] = False
        if self.chance.random() >= self.noise.missed_share:
            self.on_raw(detector, f"tag={tag}")
            phase = self._phase[detector.id]
            poll_s = ceil((self._timeline.now_s - phase) / POLL_S) * POLL_S + phase
            self._timeline.at(poll_s, lambda: self._read(detector, tag))

    def left(self, detector: Detector, tag: str) -> None:
        """It went away again."""
        if detector.kind is DetectorKind.TREADLE:
            self._feels[detector.id] = max(self._feels.get(detector.id, 0) - 1, 0)
            self._set(detector, self._feels[detector.id] > 0)
            return
        field = self._in_field.get(detector.id, {})
        was_read = field.pop(tag, False)
        self.on_raw(detector, f"tag={next(reversed(field))}" if field else "off")
        if was_read:
            self._last_seen[detector.id, tag] = self._timeline.now_s
            self._show(detector)

    def forget_fields(self, tags: set[str], reached: set[str], leaving: set[tuple[str, str]]) -> None:
        """These tags set off: a reader that is not on their way, or that they do not leave on it, has them no more."""
        for detector in self._plant.detectors.values():
            for tag in sorted(tags & set(self._in_field.get(detector.id, ()))):
                if detector.id not in reached and (detector.id, tag) not in leaving:
                    self.left(detector, tag)

    def _read(self, detector: Detector, tag: str) -> None:
        field = self._in_field.get(detector.id, {})
        if field.get(tag) is not False:
            return  # it went by between two looks, or came, went and came again
        field[tag] = True
        self._show(detector)
        last_s = self._last_seen.get((detector.id, tag))
        if last_s is None or self._timeline.now_s - last_s >= ABSENT_S:
            self._report_tag(detector, tag)
            if self.chance.random() < self.noise.repeated_share:
                self._timeline.after(self.chance.uniform(0.3, 0.8), lambda: self._report_tag(detector, tag))

    def _report_tag(self, detector: Detector, tag: str) -> None:
        self.reads[tag] = self.reads.get(tag, 0) + 1
        self._report(self._boards[detector.board], detector.input, f"tag={tag}")

    def _show(self, detector: Detector) -> None:
        lying = [tag for tag, seen in self._in_field.get(detector.id, {}).items() if seen]
        self._boards[detector.board].levels[detector.input] = f"tag={lying[-1]}" if lying else "off"

    def rest(self, detector: Detector, tag: str | None, silently: bool = False) -> None:
        """A token is laid on a rest, or lifted off it (None)."""
        board = self._boards[detector.board]
        value = "off" if tag is None else f"tag={tag}"
        if board.levels[detector.input] != value:
            board.levels[detector.input] = value
            self.on_raw(detector, value)
            if not silently:
                self._report(board, detector.input, value)

    # -- noise ---------------------------------------------------------------------------------------------------------

    def begin_noise(self) -> None:
        """From here on chance has its way."""
        for per_min, happens in ((self.noise.ghosts_per_min, self._ghost), (self.noise.flickers_per_min, self._flicker)):
            if per_min > 0.0:
                self._again(per_min, happens)

    def _again(self, per_min: float, happens: Callable[[], None]) -> None:
        def once() -> None:
            happens()
            self._again(per_min, happens)

        self._timeline.after(self.chance.expovariate(per_min / 60.0), once)

    def _ghost(self) -> None:
        readers = [d for d in self._plant.detectors.values() if d.kind is DetectorKind.READER]
        tags = sorted({tag for vehicles in self._on.values() for vehicle in vehicles.values() for tag in vehicle.tags})
        if readers and tags:
            self._report_tag(self.chance.choice(readers), garbled(self.chance.choice(tags), self.chance))

    def _flicker(self) -> None:
        lit = [d for d in self._plant.detectors.values() if d.kind is DetectorKind.TRACK and self._occupied(d)]
        if not lit:
            return
        detector = self.chance.choice(lit)
        self._dropped.add(detector.id)
        self._set(detector, False)
        longest_s = min(0.7 * detector.clear_after_ms / 1000.0, 1.0)
        self._timeline.after(self.chance.uniform(0.02, max(longest_s, 0.03)), lambda: self._restore(detector))

    def _restore(self, detector: Detector) -> None:
        self._dropped.discard(detector.id)
        self._set(detector, self._occupied(detector))


def _word(on: bool) -> str:
    return "on" if on else "off"
