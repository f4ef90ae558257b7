"""A session begins and ends: what is said then, in the order of the contract.

Rule: `begin` says where all stands, each move, where the tokens lie, then what is foretold; `end` says what is carried
over and where all stands, and after that nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.expected import Expected
from bridge.core.line import authority
from bridge.core.movement import blocked, going
from bridge.core.movement.trains import Phase
from bridge.core.places import say_place
from bridge.core.wagons import freight, missing, reckoning, standing, unbooked

if TYPE_CHECKING:
    from bridge.core.state import State


def begin(state: State, clock_s: float, n: int) -> str:
    """Set and start the session clock; refused while a session runs."""
    railway, where, conditioning = state.railway, state.where, state.conditioning
    if railway is None or where is None or conditioning is None:
        return "There is no railway folder in force."
    if state.running:
        return "A session runs already: end it first."
    state.running = True
    state.clock.begin(clock_s, state.t)
    state.ledger.silent = False
    state.ledger.clock = state.clock.text(state.t)
    state.ledger.say("session", {"state": "started", "counts": None}, (n,))
    state.roster.prepare(railway)
    ready(state)
    freight.prepare(state)
    for vehicle in railway.stock:
        say_place(state, vehicle, always=True)
        missing.look_at(state, vehicle)
    where.drain_touched()
    unbooked.begin(state)
    freight.say_all(state)
    authority.begin(state)
    standing.look_ahead(state)
    blocked.look_ahead(state)
    state.heard.append(conditioning.begin(state.t))
    for board in conditioning.boards:
        state.touch("board", board)
    for reader in state.weak:
        state.touch("reader", reader)
    return f"The session has begun at {state.clock.text(state.t)}."


def ready(state: State) -> None:
    """Let each engine that has no working begin the next one, where it stands at its first call."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    for engine in state.roster.queue:
        now = state.roster.current(engine)
        then = state.roster.following(engine)
        if (now is not None and now.phase is not Phase.ENDED) or then is None or then.working is None:
            continue
        place = where.place(engine)
        if railway.plant.station_of(place) == then.working.calls[0].station:
            state.roster.take_over(then, railway.plant.station_of(place), place)
            where.couple(engine, then.working.rake)
            then.brought = frozenset(where.company(engine))
            blocked.train_came(state, then)
            state.touch("train", then.id)


def end(state: State, n: int) -> str:
    """Say the closing words; the fold then starts afresh."""
    close(state, (n,))
    return "The session has ended."


def close(state: State, evidence: tuple[int, ...]) -> None:
    """What is carried over, where all stands, and the counts."""
    railway = state.railway
    assert railway is not None
    _rest(state)
    reckoning.carry_over(state)
    for vehicle in railway.stock:
        say_place(state, vehicle, always=True)
    counts = {kind: state.ledger.counts[kind] for kind in sorted(state.ledger.counts)}
    state.ledger.say("session", {"state": "ended", "counts": counts}, evidence)
    state.running, state.ended = False, True


def _rest(state: State) -> None:
    """What trains that stand at a station were still to leave there, and nothing would have told of, may stand there."""
    where = state.where
    assert where is not None
    for train in state.roster.trains.values():
        if train.phase is Phase.AT_STATION and state.roster.current(train.engine) is train:
            for change in where.rest(train.engine, state.t, Expected(state)):
                going.spread(state, change)
