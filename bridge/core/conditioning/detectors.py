"""What every detector says now, and what of that is news.

Rule: occupied counts at once, clear only after `clear_after` of continuous off; what is not proved is unknown. A line older
than what its input has said since changes nothing.

A `state` line that says off waits for `clear_after` as a report does: it tells how the input stands at one moment, and dirty
wheels may be lifting it just then. Passings and tags reported over a port that has not said hello yet are given all the
same: they happened, and the board says with each of what boot it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from bridge.core.conditioning.deadlines import Deadlines
from bridge.core.conditioning.passings import Passings
from bridge.core.conditioning.values import Evidence, Observation
from bridge.core.plant import Detector, DetectorKind, Plant

MOMENTARY = (DetectorKind.TREADLE, DetectorKind.READER)
DELAYED = (DetectorKind.TRACK, DetectorKind.TOKEN_REST)
NOT_HEARD = "not heard yet"

_WORDS: Mapping[DetectorKind, tuple[str, str]] = {
    DetectorKind.TRACK: ("occupied", "clear"),
    DetectorKind.PROOF: ("proved", "not-proved"),
}


@dataclass(slots=True)
class DetectorNow:
    """What one detector says now; others only read it.

    `state` is as in `Observation`; of a treadle or reader "heard" or "unknown". `since_t`: host seconds since when;
    `lasts_t`: the same, but it goes on over a time in which nothing was known of its board, where that has lost no report;
    `lapsed`: it is in such a time.
    `evidence`: journal number of the line it rests on. `raw`: the input, inversion undone: "on", "off", a tag, None where
    nothing holds. `tag`: what lies on a token-rest. `stated`: by a state line. `why`: what makes it unknown, else None.
    `last_t` and `last_n`: its last line, also where that was swallowed as a repeat. `last_tag`: the tag last read or laid.
    `changes`: when its input changed last, so many times as too many are (`noisy_changes`); a reader's never does.
    """

    state: str = "unknown"
    since_t: float = 0.0
    lasts_t: float = 0.0
    lapsed: bool = False
    evidence: int | None = None
    raw: str | None = None
    tag: str | None = None
    stated: bool = False
    muted: bool = False
    why: str | None = NOT_HEARD
    last_t: float | None = None
    last_n: int | None = None
    last_tag: str | None = None
    changes: list[float] = field(default_factory=list)


@dataclass(slots=True)
class Input:
    """One detector's workings.

    `held`: what counts (on, off, a tag; None nothing); `off`: an off that does not count yet; `went_off`: that off, where
    all that was observed went stale before it counted; `mark`: the newest line of this boot; `dark`: how many power
    detectors say that its track is off; `trip`: the number of the short circuit that it is taken for; `missing`: why
    nothing holds; `before`: what counted when its board was last heard, as long as it has said nothing else.
    """

    detector: Detector
    now: DetectorNow
    clear_after_s: float
    held: str | None = None
    off: Evidence | None = None
    went_off: Evidence | None = None
    mark: Evidence | None = None
    dark: int = 0
    trip: int | None = None
    missing: str = NOT_HEARD
    before: str | None = None
    passings: Passings = field(default_factory=Passings)

    @property
    def words(self) -> tuple[str, str]:
        """What this kind of detector calls on and off."""
        return _WORDS.get(self.detector.kind, ("on", "off"))

    @property
    def is_on(self) -> bool:
        """Whether the input is on, or a tag lies there."""
        return self.now.raw not in (None, "off")

    @property
    def counts(self) -> str | None:
        """What counts: of a treadle or reader that it is heard."""
        return self.now.state if self.detector.kind in MOMENTARY else self.held


class Detectors:
    """Every detector of the plant; what is news goes to `said`."""

    def __init__(self, plant: Plant, deadlines: Deadlines, said: list[Observation]) -> None:
        self._deadlines = deadlines
        self._said = said
        self.inputs = {d.id: Input(d, DetectorNow(), d.clear_after_ms / 1000) for d in plant.detectors.values()}
        self.of_board: dict[str, dict[int, Input]] = {board: {} for board in plant.boards}
        for row in self.inputs.values():
            self.of_board.setdefault(row.detector.board, {})[row.detector.input] = row
        self._kept = int(plant.limits.get("noisy_changes", 20)) + 1
        self.changed: dict[str, None] = {}
        """Detectors whose input has changed, since last asked."""
        self.waiting: dict[str, None] = {}
        """Boards on a port just opened: unknown until their hello."""

    def take(self, row: Input, value: str, seen: Evidence, newest: bool) -> bool:
        """One line of one input; `newest`: none younger is known. False where such a detector cannot have the value."""
        kind = row.detector.kind
        tag = value.startswith("tag=")
        if (tag and kind not in (DetectorKind.READER, DetectorKind.TOKEN_REST)) or (
            value == "on" and kind is DetectorKind.READER
        ):
            return False
        if tag:
            value = value[4:].upper()
        elif row.detector.invert:
            value = "on" if value == "off" else "off"
        news = value != row.now.raw
        if newest:
            if news and row.now.raw is not None and not seen.stated and kind is not DetectorKind.READER:
                self.count(row, seen.happened_t)
            row.mark = seen
            row.now.raw, row.now.stated = value, seen.stated
            row.now.last_t, row.now.last_n = seen.t, seen.n
            row.now.last_tag = value if tag else row.now.last_tag
            row.before = row.before if row.before in (value, "heard") else None
        if kind in MOMENTARY:
            self._momentary(row, value, seen, news)
        elif newest:
            self._hold(row, value, seen)
        return True

    def count(self, row: Input, t: float, times: int = 1) -> None:
        """An input has changed, so many times."""
        row.now.changes += [t] * min(times, self._kept)
        del row.now.changes[: -self._kept]
        self.changed[row.detector.id] = None

    def settle(self, row: Input, t: float) -> None:
        """The off of a track or rest has lasted: it counts."""
        off = row.off
        if off is not None:
            row.off, row.held = None, "off"
            self.show(row, Evidence(off.n, t, off.happened_t, off.moves))

    def settle_lasting(self, row: Input, t: float) -> None:
        """Where the off of a track or rest has lasted by `t`, it counts, though no deadline passed meanwhile."""
        if row.off is not None and row.off.t + row.clear_after_s <= t:
            self._deadlines.drop("clear", row.detector.id)
            self.settle(row, round(row.off.t + row.clear_after_s, 6))

    def forget(self, row: Input, why: str, n: int | None, t: float, boot_too: bool = False, withheld: bool = False) -> None:
        """Nothing that the input has said holds any more; with `boot_too` nor does the order of its lines. `withheld`: what
        it has said since was not kept."""
        if boot_too or withheld:
            row.before = None
        elif row.now.state != "unknown":
            row.before = row.counts
        row.went_off = None if boot_too else row.off or row.went_off
        row.held = row.off = row.now.raw = None
        row.now.stated = False
        row.missing = why
        if boot_too:
            row.mark = None
        self._deadlines.drop("clear", row.detector.id)
        self.show(row, Evidence(n, t, t))

    def doubt(self, board: str, t: float) -> None:
        """Reports of a board are lost for good: nobody knows how its inputs stood before host second `t`."""
        for row in self.of_board[board].values():
            row.before, row.now.lasts_t = None, max(row.now.lasts_t, t)

    def show(self, row: Input, seen: Evidence) -> None:
        """Say how the detector stands, where that is news."""
        now = row.now
        now.why = self._why_unknown(row)
        if now.muted or row.dark or row.trip is not None:
            row.before = None
        state, tag = "unknown", None
        if now.why is None and row.detector.kind in MOMENTARY:
            state = "heard"
        elif now.why is None:
            state = row.words[row.held == "off"]
            tag = None if row.held in ("on", "off") else row.held
        if (state, tag) == (now.state, now.tag):
            return
        now.state, now.tag, now.since_t, now.evidence = state, tag, seen.t, seen.n
        now.lapsed = row.before is not None
        if state != "unknown":
            now.lasts_t = seen.t if row.before is None or row.before != row.counts else now.lasts_t
            row.before = None
        if row.detector.kind not in MOMENTARY:
            self._say(row, state, tag, seen)

    def _why_unknown(self, row: Input) -> str | None:
        if row.now.muted:
            return "muted"
        if row.dark:
            return "track power is off"
        if row.trip is not None:
            return "many tracks of its board went clear at once: a short circuit?"
        if row.detector.board in self.waiting:
            return "its port was opened just now"
        heard = row.now.raw if row.detector.kind in MOMENTARY else row.held
        return row.missing if heard is None else None

    def _momentary(self, row: Input, value: str, seen: Evidence, news: bool) -> None:
        """A treadle's passing or a reader's tag; a tag that a state line tells of is news only where it lay not there."""
        self.show(row, seen)
        if row.detector.kind is DetectorKind.TREADLE:
            if value != "on" or seen.stated:
                return
            axles = row.detector.sees not in ("engine", "tail")
            new = not axles or row.passings.is_new_axle(seen.happened_t)
            state, tag = "passed", None
            if axles and row.passings.is_certain():
                new, seen = True, replace(seen, moves=False)
        else:
            if value == "off":
                return
            new = news if seen.stated else row.passings.is_new_read(value, seen.happened_t)
            state, tag = None, value
        if new and not row.now.muted:
            self._say(row, state, tag, seen)

    def _hold(self, row: Input, value: str, seen: Evidence) -> None:
        """The newest line of an input whose state lasts."""
        if value != "off" or row.detector.kind not in DELAYED:
            row.held, row.off, row.went_off = value, None, None
            self._deadlines.drop("clear", row.detector.id)
            self.show(row, seen)
        elif row.held != "off" and row.off is None:
            row.off, row.went_off = row.went_off or seen, None  # a report went off, and a state says it is off still
            row.missing = "clear, but not for long enough yet"
            self._deadlines.set("clear", row.detector.id, seen.t + row.clear_after_s)

    def _say(self, row: Input, state: str | None, tag: str | None, seen: Evidence) -> None:
        kind = row.detector.kind.value
        self._said.append(Observation(seen.n, seen.t, seen.happened_t, row.detector.id, kind, state, tag, seen.moves))
