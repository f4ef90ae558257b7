"""From what happens on the track to what the boards report: each detector's own physics, and noise.

Rule: a detector knows only its own stretch, boundary or contact. Binary inputs bounce where they are contacts, and are
debounced by their board; `physics.py` has the figures, `readers.py` what readers make of tags.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from random import Random

from bridge.core.plan import Vehicle
from bridge.core.plant import Detector, DetectorKind, Plant
from bridge.virtual.board import DEBOUNCE_S, Board
from bridge.virtual.contact import Contact
from bridge.virtual.noise import Noise, garbled
from bridge.virtual.physics import Physics
from bridge.virtual.readers import Readers
from bridge.virtual.timeline import Timeline
from bridge.wire.lines import BoardLine

Send = Callable[[Board, BoardLine], None]
CONTACTS = (DetectorKind.TREADLE, DetectorKind.POINTS, DetectorKind.PROOF)


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
        physics: Physics,
        seed: int,
        noise: Noise,
    ) -> None:
        self._plant, self._boards, self._on, self._timeline, self._send = plant, boards, on, timeline, send
        self._physics, self._seed = physics, seed
        self.noise, self._dice = noise, Random(f"noise {seed}")
        self.on_raw: Callable[[Detector, str], None] = lambda detector, value: None
        """Hears what is at an input itself, before its board has made anything of it: for a board of other making."""
        self.witness: Callable[[str, Detector, str], None] = lambda what, detector, subject: None
        """Hears what boards cannot know: of a reader a tag "read", "unread", "false-read", or that it is "silent" while the
        tag stays; of a detector a "drop"."""
        self.on_points: list[Callable[[str], None]] = []
        """Who hears that the points of a throat have moved."""
        self.unpowered: set[str] = set()
        """The stretches without track power."""
        self._raw: dict[str, bool] = {}
        self._real: dict[str, bool] = {}
        self._changed_s: dict[str, float] = {}
        self._feels: dict[str, int] = {}
        self._dropped: set[str] = set()
        self._floating: set[str] = set()
        self._set_for: dict[str, str] = {}
        self._bounces = {d.id: Random(f"bounce {seed} {d.id}") for d in plant.detectors.values() if d.kind in CONTACTS}
        self.contact = Contact(plant, physics, on, timeline, Random(f"contact {seed}"))
        self.contact.drop = self.drop
        self._readers = self._made_readers()
        self.reads, self.read_at = self._readers.reads, self._readers.read_at
        for detector in plant.detectors.values():
            self._begin(detector)

    def _made_readers(self) -> Readers:
        return Readers(
            self._plant,
            self._physics,
            self._timeline,
            Random(f"readers {self._seed}"),
            self._dice,
            noise=lambda: self.noise,
            report=lambda detector, value: self._report(self._boards[detector.board], detector.input, value),
            show=self._show,
            raw=self._hand_on_raw,
            witness=self._hand_on,
        )

    def _hand_on_raw(self, detector: Detector, value: str) -> None:
        self.on_raw(detector, value)

    def _hand_on(self, what: str, detector: Detector, tag: str) -> None:
        self.witness(what, detector, tag)

    def _begin(self, detector: Detector) -> None:
        level = False
        if detector.kind is DetectorKind.TRACK:
            level = self._occupied(detector)
        elif detector.kind in (DetectorKind.PROOF, DetectorKind.POWER):
            level = True
        elif detector.kind not in (DetectorKind.TREADLE, DetectorKind.POINTS):
            return
        self._real[detector.id] = level
        self._raw[detector.id] = level != detector.invert
        self._show(detector, _word(level != detector.invert))

    # -- what happens ----------------------------------------------------------------------------------------------

    def stretch_changed(self, stretch: str) -> None:
        """A vehicle came onto a stretch, or off it."""
        for detector in self._plant.covering.get(stretch, ()):
            self._set(detector, self._occupied(detector))

    def switch(self, detector: Detector, on: bool) -> None:
        """A proof, power or points contact changes."""
        self._set(detector, on)
        if detector.kind is DetectorKind.POWER:
            self.feed(detector.feeds, on)

    def feed(self, stretches: Iterable[str], on: bool) -> None:
        """The track power of some stretches goes or comes: without it no track detector sees anything."""
        for stretch in stretches:
            (self.unpowered.discard if on else self.unpowered.add)(stretch)
            self.stretch_changed(stretch)

    def set_road(self, throat: str, road: str) -> None:
        """The points of a throat are set for a road."""
        for detector in self._plant.detectors.values():
            if detector.kind is DetectorKind.POINTS and detector.at == throat and road in (*detector.on, *detector.off):
                self.switch(detector, road in detector.on)
        if self._set_for.get(throat) != road:
            self._set_for[throat] = road
            for hear in self.on_points:
                hear(throat)

    def felt(self, detector: Detector, tag: str) -> None:
        """A magnet, axle or tag came to a detector."""
        if detector.kind is DetectorKind.READER:
            self._readers.came(detector, tag)
            return
        self._feels[detector.id] = self._feels.get(detector.id, 0) + 1
        self._set(detector, True)

    def left(self, detector: Detector, tag: str) -> None:
        """It went away again."""
        if detector.kind is DetectorKind.READER:
            self._readers.left(detector, tag)
            return
        self._feels[detector.id] = max(self._feels.get(detector.id, 0) - 1, 0)
        self._set(detector, self._feels[detector.id] > 0)

    def forget_fields(self, tags: set[str], reached: set[str], leaving: set[tuple[str, str]]) -> None:
        """These tags set off: a reader that is not on their way, or that they do not leave on it, has them no more."""
        self._readers.forget(tags, reached, leaving)

    def rest(self, detector: Detector, tag: str | None, silently: bool = False) -> None:
        """A token is laid on a rest, or lifted off it (None)."""
        board = self._boards[detector.board]
        value = "off" if tag is None else f"tag={tag}"
        if board.levels[detector.input] != value:
            board.levels[detector.input] = value
            self.on_raw(detector, value)
            if not silently:
                self._report(board, detector.input, value)

    # -- binary inputs -------------------------------------------------------------------------------------------------

    def _occupied(self, detector: Detector) -> bool:
        stretch = detector.covers or ""
        if stretch in self.unpowered or detector.id in self._dropped:
            return False
        return any(vehicle.detected for vehicle in self._on[stretch].values())

    def _set(self, detector: Detector, level: bool) -> None:
        self._real[detector.id] = level
        if detector.id not in self._floating:
            self._put(detector, level)

    def _put(self, detector: Detector, level: bool) -> None:
        raw = level != detector.invert
        if self._raw[detector.id] == raw:
            return
        now_s = self._timeline.now_s
        self._raw[detector.id] = raw
        self._changed_s[detector.id] = now_s
        self.on_raw(detector, _word(raw))
        edge = self._boards[detector.board].edge(now_s, detector.input, raw)
        if edge is not None:
            self._send(self._boards[detector.board], edge)
        bounce_s = 0.0
        if level and detector.id in self._bounces:
            bounce_s = self._bounces[detector.id].uniform(*self._physics.bounce_s)
            if edge is not None:
                self._bounce(detector, raw, bounce_s)
        self._timeline.after(bounce_s + DEBOUNCE_S, lambda: self._settle(detector, raw, now_s))

    def _bounce(self, detector: Detector, raw: bool, bounce_s: float) -> None:
        """The edges of a closing contact, for a host that watches; they are over long before the board believes it."""
        chance = Random(f"edges {self._seed} {detector.id} {self._timeline.now_s}")
        board, gaps_s = self._boards[detector.board], self._physics.bounce_gap_s
        at_s, opens = chance.uniform(*gaps_s), True
        while at_s < bounce_s or not opens:
            t_s = self._timeline.now_s + min(at_s, bounce_s)
            level = raw != opens
            self._timeline.at(t_s, lambda level=level: self._edge(board, detector, level))  # type: ignore[misc]
            at_s, opens = at_s + chance.uniform(*gaps_s), not opens

    def _edge(self, board: Board, detector: Detector, raw: bool) -> None:
        edge = board.edge(self._timeline.now_s, detector.input, raw)
        if edge is not None:
            self._send(board, edge)

    def _settle(self, detector: Detector, raw: bool, changed_s: float) -> None:
        board = self._boards[detector.board]
        if (
            self._changed_s[detector.id] == changed_s
            and self._raw[detector.id] == raw
            and board.levels[detector.input] != _word(raw)
        ):
            self._show(detector, _word(raw))
            self._report(board, detector.input, _word(raw))

    def _report(self, board: Board, number: int, value: str) -> None:
        if board.awake:
            self._send(board, board.report(self._timeline.now_s, number, value))

    def _show(self, detector: Detector, value: str) -> None:
        self._boards[detector.board].levels[detector.input] = value

    # -- noise and faults ----------------------------------------------------------------------------------------------

    def drop(self, detector: Detector, seconds: float) -> None:
        """An occupied track detector sees nothing for so long."""
        if self._occupied(detector):
            self._dropped.add(detector.id)
            self._set(detector, False)
            self.witness("drop", detector, "")
            self._timeline.after(seconds, lambda: self._restore(detector))

    def _restore(self, detector: Detector) -> None:
        self._dropped.discard(detector.id)
        self._set(detector, self._occupied(detector))

    def float_to(self, detector: Detector, level: bool | None) -> None:
        """Nothing holds an input: it is at this level, whatever its detector says; None: it is held again."""
        (self._floating.discard if level is None else self._floating.add)(detector.id)
        self._put(detector, self._real[detector.id] if level is None else level)

    def begin_noise(self) -> None:
        """From here on chance has its way."""
        self.contact.begin()
        for per_min, happens in ((self.noise.ghosts_per_min, self._ghost), (self.noise.flickers_per_min, self._flicker)):
            if per_min > 0.0:
                self._again(per_min, happens)

    def _again(self, per_min: float, happens: Callable[[], None]) -> None:
        def once() -> None:
            happens()
            self._again(per_min, happens)

        self._timeline.after(self._dice.expovariate(per_min / 60.0), once)

    def _ghost(self) -> None:
        readers = [d for d in self._plant.detectors.values() if d.kind is DetectorKind.READER]
        tags = sorted({tag for vehicles in self._on.values() for vehicle in vehicles.values() for tag in vehicle.tags})
        if readers and tags:
            detector = self._dice.choice(readers)
            self._readers.report_tag(detector, garbled(self._dice.choice(tags), self._dice))

    def _flicker(self) -> None:
        lit = [d for d in self._plant.detectors.values() if d.kind is DetectorKind.TRACK and self._occupied(d)]
        if lit:
            detector = self._dice.choice(lit)
            longest_s = min(0.7 * detector.clear_after_ms / 1000.0, 1.0)
            self.drop(detector, self._dice.uniform(0.02, max(longest_s, 0.03)))


def _word(on: bool) -> str:
    return "on" if on else "off"
