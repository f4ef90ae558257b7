"""The one fold: an event in, the state changed, outcomes out.

Rule: pure. Same events, same outcomes, on every machine and hash seed. A state handed to `fold` belongs to it afterwards:
use the one that comes back. After a session has ended nothing more is said: the next begins with a state of its own.
"""

from __future__ import annotations

from bridge.core import going, opening, places, running, standing, words
from bridge.core.asking import ask
from bridge.core.digesting import digest
from bridge.core.events import DeadlinePassed, Event, FolderTaken, Journalled
from bridge.core.expected import Expected
from bridge.core.freight import all_done
from bridge.core.outcomes import Outcome
from bridge.core.state import State, equip
from bridge.core.telling import tell
from bridge.core.trains import Phase
from bridge.wire.records import HostStarted, HostStopped, Said


def fold(state: State, event: Event) -> tuple[State, tuple[Outcome, ...]]:
    """Take one event into the state; what the core has to say about it."""
    if isinstance(event, FolderTaken):
        state.t = event.t
        equip(state, event.railway)
        return state, ()
    if state.conditioning is None or state.ended:
        return state, ()
    if isinstance(event, Journalled):
        _tick(state, event.record.t)
        state.journal_n = event.n
        _take(state, event)
    else:
        _tick(state, event.t)
        _pass_deadline(state, event)
    _settle(state)
    return state, state.ledger.drain()


def due(state: State) -> float | None:
    """The next moment (host seconds) at which the core wants to be woken by a `DeadlinePassed`, None when nothing waits."""
    if state.conditioning is None or state.where is None or state.ended:
        return None
    times = [
        t for t in (state.conditioning.due(), state.where.due(), running.due(state), standing.due(state)) if t is not None
    ]
    return max(min(times), state.t) if times else None


def close(state: State, t: float) -> tuple[State, tuple[Outcome, ...]]:
    """The closing words of a session whose capture ends without `end`; nothing where none runs."""
    if not state.running:
        return state, ()
    _tick(state, t)
    opening.close(state, ())
    return state, state.ledger.drain()


def _tick(state: State, t: float) -> None:
    state.t = max(state.t, t)
    state.ledger.t = state.t
    state.ledger.clock = state.clock.text(state.t) if state.running else None


def _take(state: State, event: Journalled) -> None:
    assert state.conditioning is not None
    if isinstance(event.record, Said):
        told = words.parse(event.record.words)
        state.reply = told.text if isinstance(told, words.Misword) else tell(state, told, event.n)
    else:
        if isinstance(event.record, HostStopped):
            state.clock.host_stopped(event.record.t)
        elif isinstance(event.record, HostStarted):
            state.clock.host_started(event.record.t)
        digest(state, state.conditioning.take(event))
    while state.heard:
        digest(state, state.heard.pop(0))


def _pass_deadline(state: State, event: DeadlinePassed) -> None:
    assert state.conditioning is not None and state.where is not None
    waits = state.conditioning.due()
    if waits is not None and waits <= state.t:
        digest(state, state.conditioning.pass_deadline(event.t))
    settles = state.where.due()
    if settles is not None and settles <= state.t:
        running.apply(state, state.where.pass_deadline(event.t, Expected(state)))
    if state.running:
        running.pass_deadline(state)
        standing.pass_deadline(state)


def _settle(state: State) -> None:
    """Once an event is digested: trains that have become certain, roads, rules, and where things stand."""
    if state.running:
        running.after(state)
        _end_finished(state)
    assert state.where is not None and state.railway is not None
    moved = state.where.drain_touched()
    for road in dict.fromkeys(state.where.place(v) for v in moved):
        if road in state.railway.plant.roads and state.running:
            standing.look_at(state, road)
    ask(state)
    if state.running:
        for vehicle in moved:
            places.say_place(state, vehicle)


def _end_finished(state: State) -> None:
    """A working whose last call's moves are done is over, and its engine's next one begins."""
    over = False
    for kind, train_id in list(state.touched):
        train = state.roster.trains.get(train_id) if kind in ("train", "freight") else None
        if train is None or train.phase is not Phase.AT_STATION or train.working is None or train.call == 0:
            continue
        if train.next_call() is None and all_done(state, train):
            going.end_train(state, train)
            over = True
    if over:
        opening.ready(state)
