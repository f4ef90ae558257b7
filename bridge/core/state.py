"""What the fold remembers, in one place.

Rule: only the fold and the rooms that it calls write here. Everything can be rebuilt from the journal, and everything can
be pickled, so that a later room may look back.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from bridge.core.clock import SessionClock
from bridge.core.conditioning import Conditioned, Conditioning
from bridge.core.conditioning.deadlines import Deadlines
from bridge.core.detection.doubtful import Doubtful
from bridge.core.drawn import Drawn
from bridge.core.facts import (
    Advice,
    Astray,
    Blocked,
    ByHand,
    Circle,
    Doubt,
    Early,
    Entry,
    Lost,
    Meeting,
    Overdue,
    Risk,
    Strange,
    Weak,
)
from bridge.core.learned import Learned
from bridge.core.ledger import Ledger
from bridge.core.line.tokens import Authorities
from bridge.core.operator.words import Word
from bridge.core.plan import Railway
from bridge.core.retold.past import Past
from bridge.core.trains import Roster
from bridge.core.wagons.moves import Freight
from bridge.core.whereabouts.weighed import Weighing

if TYPE_CHECKING:
    from bridge.core.presence import Presence
    from bridge.core.whereabouts import Inference, Passage


@dataclass
class State:
    """One session's state, made by `fresh` and filled by `FolderTaken` first."""

    strict: bool = False
    railway: Railway | None = None
    conditioning: Conditioning | None = None
    clock: SessionClock = field(default_factory=lambda: SessionClock(1.0))
    where: Inference | None = None
    roster: Roster = field(default_factory=Roster)
    authorities: Authorities = field(default_factory=Authorities)
    freight: Freight = field(default_factory=Freight)
    ledger: Ledger = field(default_factory=Ledger)
    running: bool = False
    ended: bool = False
    t: float = 0.0
    journal_n: int = 0
    stopped_t: float | None = None
    presences: dict[str, list[Presence]] = field(default_factory=dict)
    shunted: dict[str, tuple[str, float]] = field(default_factory=dict)
    """Section to the train that came back from a shunt there last, and when."""
    came_out: dict[str, tuple[str, str, float]] = field(default_factory=dict)
    """Section to the engine whose train was proved out of it last, the throat where, and when."""
    good_tails: dict[str, float] = field(default_factory=dict)
    """Tail treadle to when it last told of a tail; of one that has missed a tail since nothing stands here."""
    was_clear: dict[str, float] = field(default_factory=dict)
    """Track detectors of sections and running roads that say clear, and since when."""
    told_of: dict[str, tuple[float, int | None]] = field(default_factory=dict)
    """Section or running road to when a treadle or reader at its end last told of something, and in which line."""
    stood: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """Section or running road to the vehicles that were held to stand there until it last counted as clear."""
    passed_at: dict[str, float] = field(default_factory=dict)
    """Throat to when anything at its ends last told of a passing."""
    trodden_at: dict[str, float] = field(default_factory=dict)
    """Throat to when anything but a reader did, which tells of its own vehicle alone."""
    read_last: dict[str, tuple[str, float]] = field(default_factory=dict)
    """Engine to the throat at which it was read last, and when."""
    may_have_gone: dict[str, str] = field(default_factory=dict)
    """Engine to the section or road that it can have been what occupied, where it has not been read since."""
    suspects: dict[str, Astray] = field(default_factory=dict)
    astray: dict[str, Astray] = field(default_factory=dict)
    unexplained: dict[str, None] = field(default_factory=dict)
    lasting: Deadlines = field(default_factory=Deadlines)
    stirred: dict[str, None] = field(default_factory=dict)
    deadlines: Deadlines = field(default_factory=Deadlines)
    entries: dict[str, list[Entry]] = field(default_factory=dict)
    risks: dict[str, dict[str, Risk]] = field(default_factory=dict)
    unlooked: dict[str, None] = field(default_factory=dict)
    proving: Deadlines = field(default_factory=Deadlines)
    timed: Deadlines = field(default_factory=Deadlines)
    """Moments of the session clock, in session seconds: what waits for them stands still while it does."""
    overdue: dict[str, Overdue] = field(default_factory=dict)
    blocked: dict[str, Blocked] = field(default_factory=dict)
    """By train and call ("g1:2")."""
    awaited: dict[str, dict[str, None]] = field(default_factory=dict)
    """Road or throat to those that it concerns."""
    hindering: dict[str, dict[str, None]] = field(default_factory=dict)
    """Vehicle to those in whose way it is."""
    unsettled: dict[str, None] = field(default_factory=dict)
    blocking: Deadlines = field(default_factory=Deadlines)
    advice: dict[str, Advice] = field(default_factory=dict)
    heeding: dict[tuple[str, str], dict[str, None]] = field(default_factory=dict)
    """A stretch or a train ("stretch" or "train", and its id) to the trains whose going it concerns; `heeded` the other
    way."""
    heeded: dict[str, tuple[tuple[str, str], ...]] = field(default_factory=dict)
    offered: dict[str, str] = field(default_factory=dict)
    """Section to the one train that may go into it."""
    unadvised: dict[str, None] = field(default_factory=dict)
    advising: Deadlines = field(default_factory=Deadlines)
    meetings: dict[str, Meeting] = field(default_factory=dict)
    waiting: dict[str, dict[str, bool]] = field(default_factory=dict)
    """Train to those for whom it waits; whether by the plan alone."""
    circles: dict[str, Circle] = field(default_factory=dict)
    early: dict[str, Early] = field(default_factory=dict)
    doubts: dict[str, list[Doubt]] = field(default_factory=dict)
    doubtful: Doubtful = field(default_factory=Doubtful)
    strangers: dict[str, Strange] = field(default_factory=dict)
    stirred_at: dict[str, float] = field(default_factory=dict)
    reckoned: Deadlines = field(default_factory=Deadlines)
    unplaced: Deadlines = field(default_factory=Deadlines)
    doubted_at: dict[str, float] = field(default_factory=dict)
    """Vehicle of which no place is likely enough, and since when."""
    lost: dict[str, Lost] = field(default_factory=dict)
    passages: dict[str, list[float]] = field(default_factory=dict)
    read_by: dict[str, dict[str, None]] = field(default_factory=dict)
    unread_yet: dict[str, list[Passage]] = field(default_factory=dict)
    weak: dict[str, Weak] = field(default_factory=dict)
    at_home: dict[str, tuple[str, float]] = field(default_factory=dict)
    """Wagon that nothing names to the road on which it is known to stand, and since when."""
    by_hand: dict[str, ByHand] = field(default_factory=dict)
    foretold: dict[str, str] = field(default_factory=dict)
    brimming: dict[str, float] = field(default_factory=dict)
    overfull: dict[str, tuple[tuple[str, ...], float, bool, tuple[str, ...], tuple[int, ...]]] = field(default_factory=dict)
    said_where: dict[str, tuple[str, int | None, str | None, tuple[str, ...], str]] = field(default_factory=dict)
    gaps: dict[str, list[tuple[str, tuple[int, ...]]]] = field(default_factory=dict)
    lost_boards: dict[str, tuple[str, str, tuple[int, ...]]] = field(default_factory=dict)
    touched: dict[tuple[str, str], None] = field(default_factory=dict)
    set_aside: dict[str, str] = field(default_factory=dict)
    heard: list[Conditioned] = field(default_factory=list)
    reply: str = ""
    drawn: dict[str, Drawn] = field(default_factory=dict)
    """Stations that are not drawn by themselves."""
    undos: dict[int, Word] = field(default_factory=dict)
    """Journal number of a word to its opposite, as things stood before it: of use once the past cannot be told again."""
    reads: list[tuple[float, str, str]] = field(default_factory=list)
    """The last tags read by readers of boundaries: host seconds, detector, tag."""
    past: Past = field(default_factory=Past)

    def touch(self, fact: str, subject: str) -> None:
        """Note that a fact has changed: the rules that read such facts will be asked about this subject."""
        self.touched[(fact, subject)] = None


def fresh(strict: bool = False, after_end: bool = False) -> State:
    """A state that knows nothing yet. `strict`: a failing rule raises (in tests) instead of being set aside; `after_end`: a
    session has ended before, and nothing is said until the next `begin`."""
    return State(strict=strict, ledger=Ledger(silent=after_end))


def equip(state: State, railway: Railway, learned: Learned | None = None) -> None:
    """Take a railway into force, with what an earlier session has learned of it."""
    state.railway = railway
    state.conditioning = Conditioning(railway.plant)
    state.clock = SessionClock(railway.plant.clock)
    state.where = Weighing(railway.plant, railway.stock)
    if learned is not None:
        state.where.know(learned)
        state.drawn = {station: row for station, row in learned.drawn.items() if station in railway.plant.stations}
    rows = sorted(railway.standing, key=lambda s: (s.place, s.order))
    state.where.begin([(row.vehicle, row.place) for row in rows], state.t)
