"""How readers do: of the vehicles that passed each of late, how many it has read.

Rule: what is counted is told of each reader by itself, also where two stand at one boundary. A passage counts against a
reader only where it has been heard all the while, and only of a vehicle that another reader has read: a tag that nobody
reads says nothing of readers.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.facts import Weak
from bridge.core.readings import limit

if TYPE_CHECKING:
    from bridge.core.state import State
    from bridge.core.whereabouts import Passage

DEAD_SHARE = 0.25  # of the least number: that so many pass a good reader and none is read is less likely than a fifth missed
HEARD_S = 60.0  # what passed before may be told of only now
DOUBTFUL = 0.8  # passages that are less likely than this and follow each other are one doubt, and count as one passage
MOST_WAITING = 40  # passages of a vehicle that nobody has read yet
KEPT = 3  # times the least number of passages by which a reader is judged


def take(state: State) -> None:
    """Count what has passed readers since last asked."""
    where = state.where
    assert where is not None
    for passage in where.drain_passages(state.t):
        if passage.unread == 0.0:
            _read(state, passage)
        elif set(state.read_by.get(passage.vehicle, ())) - {passage.reader}:
            _count(state, passage.reader, passage.unread)
        else:
            waiting = state.unread_yet.setdefault(passage.vehicle, [])
            waiting.append(passage)
            del waiting[:-MOST_WAITING]


def _read(state: State, passage: Passage) -> None:
    """A vehicle was read: where others did not read it before, its tag was there all the same."""
    _count(state, passage.reader, 0.0)
    readers = state.read_by.setdefault(passage.vehicle, {})
    if len(readers) > 1 or passage.reader in readers:
        return
    readers[passage.reader] = None
    waiting = state.unread_yet.pop(passage.vehicle, [])
    for earlier in waiting:
        if set(readers) - {earlier.reader}:
            _count(state, earlier.reader, earlier.unread)
        else:
            state.unread_yet.setdefault(passage.vehicle, []).append(earlier)


def _count(state: State, reader: str, unread: float) -> None:
    """One passage more, where the reader could have told of it."""
    conditioning = state.conditioning
    assert conditioning is not None
    now = conditioning.detectors[reader]
    if now.state != "heard" or now.since_t > state.t - HEARD_S:
        return
    least, share = int(limit(state, "weak_reads", 20)), limit(state, "weak_share", 0.2)
    rows = state.passages.setdefault(reader, [])
    if rows and 0.0 < unread < DOUBTFUL and 0.0 < rows[-1] < DOUBTFUL:
        rows[-1] = max(unread, rows[-1])
        return
    rows.append(unread)
    del rows[: -KEPT * least]
    if reader not in state.weak:
        _judge(state, reader, least, share)
    elif len(rows) >= least and sum(rows[-least:]) <= share * least / 2.0:
        del state.weak[reader], rows[:-least]
        state.touch("reader", reader)


def _judge(state: State, reader: str, least: int, share: float) -> None:
    """Has it missed too much of what has passed it of late? One that has read nothing at all shows that sooner."""
    rows = state.passages[reader]
    read, missed = rows.count(0.0), sum(rows)
    is_dead = not read and missed >= least * DEAD_SHARE
    if is_dead or (len(rows) >= least and missed > share * (read + missed)):
        evidence = (state.journal_n,) if state.journal_n else ()
        state.weak[reader] = Weak(f"weak:{reader}:{state.t:.6f}", read, len(rows), evidence)
        state.touch("reader", reader)
