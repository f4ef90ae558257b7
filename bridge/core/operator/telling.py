"""What operators tell, carried out: each word changes the state by the same rooms that evidence does.

Rule: a word that cannot be carried out changes nothing; why is kept in `State.reply` for whoever told it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core import opening
from bridge.core.detection import doubtful
from bridge.core.expected import Expected
from bridge.core.line import authority
from bridge.core.movement import arriving, coming, running
from bridge.core.operator import drawing, words
from bridge.core.trains import Phase, Train, section_after
from bridge.core.wagons import freight

if TYPE_CHECKING:
    from bridge.core.state import State


def tell(state: State, told: words.Word, n: int) -> str:
    """Carry out one word; what to answer."""
    if isinstance(told, words.Undo):
        return _undo(state, told.n, n)
    back = _inverse(state, told)
    answer = _carry_out(state, told, n)
    if back is not None:
        state.undos[n] = back
    return answer


def _inverse(state: State, told: words.Word) -> words.Word | None:
    """The word that takes another back, as things stand before it; None where nothing can."""
    where = state.where
    if isinstance(told, words.Stands) and where is not None and state.running:
        if state.railway is None or told.vehicle not in state.railway.stock:
            return None
        return words.Stands(told.vehicle, where.place(told.vehicle), where.belief(told.vehicle).order)
    if isinstance(told, words.Tag) and where is not None and state.running:
        return words.Tag(tuple((tag, where.vehicle_of(tag)) for tag, _ in told.tags))
    if isinstance(told, words.Draw):
        return drawing.opposite(state, told)
    if isinstance(told, words.Mute):
        return words.Unmute(told.detector)
    if isinstance(told, words.Unmute):
        return words.Mute(told.detector)
    if isinstance(told, words.StopClock):
        return words.GoOn()
    if isinstance(told, words.GoOn):
        return words.StopClock()
    return None


def _undo(state: State, earlier: int, n: int) -> str:
    """Take an earlier word back by its opposite, where it has one: this is for what lies too far back to be told again
    without it (`bridge.core.retold.unsaid`)."""
    back = state.undos.pop(earlier, None)
    if back is None:
        return _why_not(state, earlier)
    return f"Number {earlier} is taken back from now on. {_carry_out(state, back, n)}"


def _why_not(state: State, earlier: int) -> str:
    row = state.past.told.rows.get(earlier)
    word = None if row is None else row.words.split()[0].lower()
    if row is not None and row.back is not None:
        return f"Number {earlier} cannot be undone: it has been taken back already, by number {row.back[0]}."
    if word == "begin":
        return f"Number {earlier} cannot be undone: the session has begun for everybody. End it, and begin another."
    if row is not None:
        return f"Number {earlier} cannot be undone: too much has happened since. Tell what stands instead."
    return f"Number {earlier} cannot be undone: it is no word told of late. Tell what stands instead."


def _carry_out(state: State, told: words.Word, n: int) -> str:
    if isinstance(told, words.Begin):
        return opening.begin(state, told.clock_s, n)
    if isinstance(told, words.Draw) and state.railway is not None:
        return _nobody_knows(state, told) or drawing.draw(state, told)
    if not state.running:
        return _between_sessions(state, told)
    wrong = _nobody_knows(state, told)
    if wrong is not None:
        return wrong
    if isinstance(told, words.StopClock | words.GoOn):
        return _clock(state, isinstance(told, words.StopClock), n)
    if isinstance(told, words.End):
        return opening.end(state, n)
    if isinstance(told, words.Acknowledge | words.Explain | words.Verdict):
        return _about_item(state, told)
    if isinstance(told, words.Mute | words.Unmute):
        return _mute(state, told, n)
    return _about_trains(state, told, n)


def _between_sessions(state: State, told: words.Word) -> str:
    """Where a vehicle stands may be told after an end: it changes nothing here, and goes into what is handed over."""
    if not isinstance(told, words.Stands) or not state.ledger.silent:
        return "No session runs: begin one first."
    return _nobody_knows(state, told) or f"{told.vehicle} stands on {told.place}: noted for when it is written down."


def _nobody_knows(state: State, told: words.Word) -> str | None:
    """The first id in the words that is none; a road where a train arrives may be short, and is looked up there."""
    if state.railway is None or isinstance(told, words.Arrive):
        return None
    return words.unknown(told, state.railway, state.roster.trains)


def _clock(state: State, stop: bool, n: int) -> str:
    if stop:
        state.clock.stop(state.t)
    else:
        state.clock.go_on(state.t)
    state.ledger.say("session", {"state": "stopped" if stop else "going-on", "counts": None}, (n,))
    return "The session clock stands still." if stop else "The session clock goes on."


def _about_item(state: State, told: words.Acknowledge | words.Explain | words.Verdict) -> str:
    item = state.ledger.find(told.id)
    if item is None:
        return f"There is no irregularity {told.id}."
    if isinstance(told, words.Acknowledge):
        item.acknowledged = True
        return f"{told.id} is acknowledged."
    if isinstance(told, words.Explain):
        item.explained = told.reason
        state.ledger.rewrite(item)
        return f"{told.id} is explained."
    item.verdict = told.verdict
    return f"{told.id} is noted as {told.verdict}."


def _mute(state: State, told: words.Mute | words.Unmute, n: int) -> str:
    conditioning = state.conditioning
    assert conditioning is not None
    if isinstance(told, words.Mute):
        state.heard.append(conditioning.mute(told.detector, state.t, n))
        doubtful.touch(state, told.detector)
        return f"{told.detector} counts as unknown from now on."
    state.heard.append(conditioning.unmute(told.detector, state.t, n))
    doubtful.touch(state, told.detector)
    return f"{told.detector} counts again."


def _about_trains(state: State, told: words.Word, n: int) -> str:
    railway, where = state.railway, state.where
    assert railway is not None and where is not None and state.conditioning is not None
    if isinstance(told, words.Give):
        if told.section not in railway.plant.sections or told.train not in state.roster.trains:
            return "That section or train is not known."
        why = authority.told_give(state, told.section, told.train, told.how, n)
        return f"Refused: {why}." if why is not None else f"{told.train} has authority for {told.section}."
    if isinstance(told, words.Return):
        if told.section not in railway.plant.sections or told.train not in state.roster.trains:
            return "That section or train is not known."
        authority.told_return(state, told.section, told.train, n)
        running.given_back(state, told.train, told.section, n)
        return f"{told.train} has given {told.section} back."
    if isinstance(told, words.Stands):
        for detector in railway.plant.covering.get(told.place, ()):
            state.heard.append(state.conditioning.looked(detector.id, state.t))
        running.apply(state, where.told_stands(told.vehicle, told.place, told.order, state.t, n, Expected(state)))
        return f"{told.vehicle} stands on {told.place}."
    if isinstance(told, words.Tag):
        for tag, vehicle in told.tags:
            where.learn_tag(tag, vehicle)
            state.strangers.pop(tag, None)
            state.touch("tag", tag)
        first, *more = told.tags
        also = f", and {len(more)} more as told" if more else ""
        return f"Tag {first[0]} belongs to {first[1] or 'no vehicle'}{also}."
    return _about_one_train(state, told, n)


def _about_one_train(state: State, told: words.Word, n: int) -> str:
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    train = state.roster.trains.get(getattr(told, "train", getattr(told, "working", "")))
    if isinstance(told, words.Extra):
        made = state.roster.extra(told.engine, told.name, railway.plant.station_of(where.place(told.engine)))
        _touch_trains(state, told.engine)
        return f"{told.engine} runs as {made.id}."
    if train is None:
        return "That train is not known."
    if isinstance(told, words.Depart):
        return _depart(state, train, n)
    if isinstance(told, words.Arrive):
        return _arrive(state, train, told.road, n)
    if isinstance(told, words.SetsOut):
        running.apply(state, where.told_stands(told.vehicle, told.road, None, state.t, n, Expected(state)))
        running.apply(state, where.told_with(told.vehicle, None, state.t, n))
        freight.told_set_out(state, train, told.vehicle, told.road, n)
        return f"{told.vehicle} is set out on {told.road}."
    if isinstance(told, words.Lifts):
        running.apply(state, where.told_with(told.vehicle, train.engine, state.t, n))
        return f"{told.vehicle} goes with {train.id}."
    if isinstance(told, words.Engine):
        _change_engine(state, train, told.vehicle, n)
        return f"{train.id} is worked by {told.vehicle}."
    if isinstance(told, words.Cancel):
        coming.cancel(state, train)
        return f"{train.id} is cancelled."
    return "That word cannot be carried out yet."


def _change_engine(state: State, train: Train, engine: str, n: int) -> None:
    """Another engine works a train; what went with the one goes with the other, once the train has begun."""
    railway, where, before = state.railway, state.where, train.engine
    assert railway is not None and where is not None
    goes = [v for v in railway.stock if where.leader(v) == before and v not in (before, engine)]
    has_begun = train.phase is not Phase.TO_COME
    state.roster.change_engine(train, engine)
    for vehicle in goes if has_begun and train.phase is not Phase.TO_COME else ():
        running.apply(state, where.told_with(vehicle, engine, state.t, n))
    for presence in state.presences.get(train.section or "", ()):
        if presence.train == train.id:
            presence.engine = engine
    _touch_trains(state, before, engine)


def _touch_trains(state: State, *engines: str) -> None:
    """Which train these engines work has changed."""
    for train in [t for t in state.roster.trains.values() if t.engine in engines]:
        state.touch("train", train.id)


def _depart(state: State, train: Train, n: int) -> str:
    """A train departs: at once where nothing at the section end could tell of it, else when that does."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    train.told_depart = True
    section = section_after(railway, train)
    if train.phase is Phase.AT_STATION and section is not None:
        plant, throat = railway.plant, section.from_throat
        if not throat.startswith(f"{train.station}."):
            throat = section.to_throat
        if f"{section.id}@{train.station}" not in plant.standing_at and not {section.id, throat} & set(plant.covering):
            running.apply(state, where.told_arrived(train.engine, section.id, state.t, n, Expected(state)))
    running.stir(state, train.section or where.place(train.engine))
    return f"{train.id} has departed."


def _arrive(state: State, train: Train, road: str, n: int) -> str:
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    full = road if "." in road else f"{train.station}.{road}"
    if full not in railway.plant.roads:
        return f"There is no road {road}."
    running.apply(state, where.told_arrived(train.engine, full, state.t, n, Expected(state)))
    if train.phase in (Phase.OUT, Phase.IN_SECTION) and train.station != railway.plant.roads[full].station:
        arriving.arrive_told(state, train, full, n)
    return f"{train.id} has come to {full}."
