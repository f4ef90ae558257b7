"""Conditioned observations and news of boards, handed to the rooms that they concern, each said as `observed`.

Rule: the order is fixed: what was observed is said, then the whereabouts take it, then trains and freight what follows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.advice import may_go
from bridge.core.asking import ask
from bridge.core.conditioning import BoardChange, Conditioned, Observation
from bridge.core.detection import doubting
from bridge.core.expected import Expected
from bridge.core.facts import Strange
from bridge.core.line import authority, proofs, unexplained
from bridge.core.movement import running
from bridge.core.plant import DetectorKind
from bridge.core.readings import limit
from bridge.core.wagons import missing

LEAST_KNOWN = 4  # so many digits of a tag are known again
MOST_READS = 80  # a rake of twenty with all that trains bring past other readers meanwhile

if TYPE_CHECKING:
    from bridge.core.state import State


def digest(state: State, heard: Conditioned) -> None:
    """Take in what one event, or one deadline, has told."""
    for change in heard.changes:
        _board(state, change)
        ask(state)  # what opens and ends in one event is said both times
    for seen in heard.observations:
        _observe(state, seen)
    doubting.hear(state, heard)


def _observe(state: State, seen: Observation) -> None:
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    detector = railway.plant.detectors[seen.detector]
    if seen.state == "passed" and not seen.moves:  # the same passing: no news, but surer
        running.apply(state, where.take(seen, Expected(state)))
        running.stir(state, railway.plant.stretch_of(detector) or "")
        return
    state.ledger.say("observed", {"detector": seen.detector, "state": seen.state, "tag": seen.tag}, (seen.n,))
    running.take_signs(state, seen)
    if detector.kind is DetectorKind.TOKEN_REST:
        brought = authority.rest_seen(state, seen)
        if brought is not None and detector.token is not None:
            running.given_back(state, brought, detector.token, seen.n, detector.station)
    elif detector.kind is DetectorKind.PROOF:
        proofs.stir(state, detector.guards or "")
    elif detector.kind is DetectorKind.READER and seen.tag is not None and seen.moves and not _is_garbled(state, seen.tag):
        _read(state, seen.t, seen.detector, seen.tag)
        if not where.knows_tag(seen.tag):
            _strange(state, seen)
    may_go.seen(state, detector)
    place = railway.plant.stretch_of(detector)
    if seen.moves:
        missing.stir(state, detector, seen.t)
    if place is not None:
        running.stir(state, place)
    unexplained.before(state, seen)
    if not _is_said_again(state, seen):
        running.apply(state, where.take(seen, Expected(state)))
    unexplained.observe(state, seen)
    doubting.observe(state, seen)
    if place is not None:
        running.stir(state, place)


def _is_said_again(state: State, seen: Observation) -> bool:
    """True for what a detector said before its board was not heard, and says still: nothing has happened there."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    board = conditioning.boards.get(railway.plant.detectors[seen.detector].board)
    stated = seen.state not in (None, "unknown", "passed") and not seen.moves
    whole = board is not None and not board.gaps
    return stated and whole and conditioning.detectors[seen.detector].lasts_t < seen.t


def _is_garbled(state: State, tag: str) -> bool:
    """True for a tag that readers which disturb each other say instead of one that a vehicle carries: the first bytes of
    that, shifted, with zeros before them (seen so with two readers 80 mm apart behind metal)."""
    where, size = state.where, len(tag)
    assert where is not None
    if not tag.startswith("00") or where.knows_tag(tag):
        return False
    shifts = range(2, size - LEAST_KNOWN + 1, 2)
    known = [other for other in where.tags() if len(other) == size]
    return any(tag == "0" * shift + other[:-shift] for shift in shifts for other in known)


def _read(state: State, t: float, reader: str, tag: str) -> None:
    """Keep the last tags read, each once where a reader reads it again and again."""
    last = next(((kept, tag_read) for _, kept, tag_read in reversed(state.reads) if kept == reader), None)
    if last != (reader, tag):
        state.reads = [*state.reads[1 - MOST_READS :], (t, reader, tag)]


def _strange(state: State, seen: Observation) -> None:
    """A tag of no vehicle: real once read twice by one reader within 10 s, or by two readers."""
    assert seen.tag is not None
    strange = state.strangers.setdefault(seen.tag, Strange(seen.tag))
    strange.reads = [*strange.reads[-7:], (seen.t, seen.detector, seen.n or 0)]
    within = limit(state, "tag_within", 10.0)
    for t, detector, _ in strange.reads[:-1]:
        if detector != seen.detector or seen.t - t <= within:
            strange.raised = True
    state.touch("tag", seen.tag)


def _board(state: State, change: BoardChange) -> None:
    evidence = () if change.n is None else (change.n,)
    if change.kind == "lost":
        state.lost_boards[change.board] = (f"board:{change.board}:{change.t:.6f}", change.why or "silent", evidence)
    elif change.kind in ("heard", "back"):
        state.lost_boards.pop(change.board, None)
    elif change.kind == "gap_overdue":
        rows = state.gaps.setdefault(change.board, [])
        rows.append((f"gap:{change.board}:{change.boot}:{change.first}-{change.last}", evidence))
    elif change.kind == "gap_filled":
        _fill(state, change)
    elif change.kind == "restated":
        state.gaps.pop(change.board, None)
    proofs.heard(state, change.board)
    state.touch("board", change.board)


def _fill(state: State, change: BoardChange) -> None:
    rows = state.gaps.get(change.board, [])
    head = f"gap:{change.board}:{change.boot}:"
    for row in list(rows):
        if row[0].startswith(head):
            first, last = (int(x) for x in row[0][len(head) :].split("-"))
            if change.first is not None and first <= change.first <= last:
                rows.remove(row)
