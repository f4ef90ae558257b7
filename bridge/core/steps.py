"""One event taken into the state: what reached the host, or a moment that came.

Rule: the order is fixed: conditioning first, then whereabouts, trains and freight, then the rules. What came late is not
taken here: it is handed back, to be put in its place (`bridge.core.retold.hindsight`).
"""

from __future__ import annotations

from bridge.core import by_the_clock, opening, places
from bridge.core.advice import may_go
from bridge.core.asking import ask
from bridge.core.conditioning import Conditioned, Late
from bridge.core.detection import doubting, readers
from bridge.core.digesting import digest
from bridge.core.events import Journalled
from bridge.core.expected import Expected
from bridge.core.line import proofs, unexplained
from bridge.core.movement import arriving, blocked, going, gone, running
from bridge.core.operator import words
from bridge.core.operator.telling import tell
from bridge.core.state import State
from bridge.core.trains import Phase
from bridge.core.wagons import freight, missing, reckoning, standing, unbooked
from bridge.core.wagons.booked import all_done
from bridge.wire.records import HostStarted, HostStopped, Said

STATED_S = 1.0  # boards that are asked at a start have said by then how their inputs stand: common practice, no source


def due(state: State) -> float | None:
    """The next moment (host seconds) at which a deadline is to be passed, None when nothing waits."""
    if state.conditioning is None or state.where is None or state.ended:
        return None
    dues = (
        state.conditioning.due(),
        state.where.due(),
        running.due(state),
        standing.due(state),
        reckoning.due(state),
        missing.due(state),
        proofs.due(state),
        unexplained.due(state),
        by_the_clock.due(state),
        blocked.due(state),
        may_go.due(state),
        doubting.due(state),
    )
    times = [t for t in dues if t is not None]
    return max(min(times), state.t) if times else None


def take(state: State, event: Journalled) -> Conditioned:
    """Take what reached the host; what it has come to, for what of it came late is not taken here."""
    assert state.conditioning is not None
    tick(state, event.record.t)
    state.journal_n = event.n
    heard = Conditioned()
    if isinstance(event.record, Said):
        told = words.parse(event.record.words)
        state.reply = told.text if isinstance(told, words.Misword) else tell(state, told, event.n)
    else:
        if isinstance(event.record, HostStopped):
            state.clock.host_stopped(event.record.t)
            state.stopped_t = event.record.t
        elif isinstance(event.record, HostStarted):
            state.clock.host_started(event.record.t)
            _count_anew(state, event.record.t)
        heard = state.conditioning.take(event)
        digest(state, heard)
    while state.heard:
        digest(state, state.heard.pop(0))
    _settle(state)
    return heard


def place(state: State, late: Late, t: float) -> None:
    """Take late evidence at the host second `t` at which it has its place."""
    assert state.conditioning is not None
    tick(state, t)
    digest(state, state.conditioning.until(late, state.t))
    digest(state, state.conditioning.place(late, state.t))
    _settle(state)


def pass_deadline(state: State, t: float) -> None:
    """Pass what was due at or before host second `t`."""
    assert state.conditioning is not None and state.where is not None
    tick(state, t)
    waits = state.conditioning.due()
    if waits is not None and waits <= state.t:
        digest(state, state.conditioning.pass_deadline(t))
    settles = state.where.due()
    if settles is not None and settles <= state.t:
        running.apply(state, state.where.pass_deadline(t, Expected(state)))
    doubting.pass_deadline(state)
    if state.running:
        running.pass_deadline(state)
        standing.pass_deadline(state)
        reckoning.pass_deadline(state)
        missing.pass_deadline(state)
        proofs.pass_deadline(state)
        unexplained.pass_deadline(state)
        by_the_clock.pass_deadline(state)
        blocked.pass_deadline(state)
        may_go.pass_deadline(state)
    _settle(state)


def _count_anew(state: State, t: float) -> None:
    """The service was down: what is waited for in real time is waited for so much longer, and until boards have said how
    things stand."""
    assert state.where is not None
    by_s = STATED_S + (0.0 if state.stopped_t is None else max(0.0, t - state.stopped_t))
    state.stopped_t = None
    state.where.put_off(by_s)
    state.deadlines.put_off(by_s)
    state.reckoned.put_off(by_s)
    missing.put_off(state, by_s)
    state.proving.put_off(by_s)
    state.lasting.put_off(by_s)
    state.blocking.put_off(by_s)
    state.advising.put_off(by_s)
    state.doubtful.moments.put_off(by_s)
    state.brimming = {road: round(at + by_s, 6) for road, at in state.brimming.items()}
    for presence in (p for rows in state.presences.values() for p in rows):
        presence.last_sign_t += by_s
        if presence.out_sign_t is not None:
            presence.out_sign_t += by_s
        if presence.passed_t is not None:
            presence.passed_t += by_s


def tick(state: State, t: float) -> None:
    """Let the clocks show host second `t`; never back."""
    state.t = max(state.t, t)
    state.ledger.t = state.t
    state.ledger.clock = state.clock.text(state.t) if state.running else None


def _settle(state: State) -> None:
    """Once an event is digested: trains that have become certain, roads, rules, and where things stand."""
    if state.running:
        running.after(state)
        unexplained.after(state)
        _end_finished(state)
    assert state.where is not None and state.railway is not None
    moved = state.where.drain_touched()
    for vehicle in moved if state.running else ():
        gone.look_again(state, vehicle)
        arriving.see_road(state, vehicle)
        freight.look_again(state, vehicle)
        reckoning.look_again(state, vehicle)
        reckoning.engine_moved(state, vehicle)
        missing.look_at(state, vehicle)
        unbooked.look_at(state, vehicle)
        blocked.moved(state, vehicle)
    for road in dict.fromkeys(state.where.place(v) for v in moved):
        if road in state.railway.plant.roads and state.running:
            standing.look_at(state, road)
    if state.running:
        blocked.after(state)
    readers.take(state)
    ask(state)
    if state.running:
        for vehicle in moved:
            places.say_place(state, vehicle)
            may_go.stir(state, state.where.place(vehicle))
        may_go.after(state)
        ask(state)


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
