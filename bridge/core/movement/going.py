"""Trains going: out past a section end, departed for good, or back from a shunt.

Rule: a train whose first vehicle passes its section end is *out*, and that is judged at once; whether it has departed shows
only later, and is said then with `happened` when it went out. What was said too early is corrected.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.detection import doubting
from bridge.core.expected import Expected
from bridge.core.facts import Entry
from bridge.core.line import authority, inside, plainly
from bridge.core.line.behind import lagging
from bridge.core.line.ways import SHUNTED_BACK
from bridge.core.movement import blocked, early, gone, meeting, overdue
from bridge.core.plant import Section
from bridge.core.presence import Presence
from bridge.core.readings import late_s, limit, stretch_state
from bridge.core.trains import Phase, Train, first_section, section_after
from bridge.core.wagons import freight, reckoning, standing
from bridge.core.wagons.booked import outstanding, stays_on
from bridge.core.whereabouts import Change, Crossing, Joined, Left

if TYPE_CHECKING:
    from bridge.core.state import State


def train_going(state: State, engine: str, section: Section, throat: str) -> Train:
    """The train that an engine works as it goes out: its present working, its next one, or one in no timetable."""
    railway = state.railway
    assert railway is not None
    station = throat.partition(".")[0]
    now, then = state.roster.current(engine), state.roster.following(engine)
    if now is not None and now.phase is not Phase.ENDED:
        booked = section_after(railway, now)
        if then is None or (booked is not None and booked.id == section.id):
            return now
    if then is not None and then.working is not None:
        first = first_section(railway, then.working)
        if then.working.calls[0].station == station and first is not None and first.id == section.id:
            if now is not None:
                end_train(state, now)
            state.roster.take_over(then, station, state.where.place(engine) if state.where else None)
            return then
    if now is not None and now.phase is not Phase.ENDED:
        return now
    made = state.roster.unbooked(engine)
    made.station = station
    return made


def go_out(state: State, crossing: Crossing, train: Train, section: Section, throat: str) -> None:
    """A train's first vehicle has passed its section end: judged at once, as things are known now."""
    where = state.where
    assert where is not None
    station = throat.partition(".")[0]
    cause = f"entry:{section.id}:{train.id}:{crossing.n}"
    if crossing.by == "seen":
        inside.doubt_reckoned(state, section.id, train, crossing.t)
    others, maybe, stranded = meeting.met(state, section, train, throat)
    least, is_witnessed = (
        plainly.least_for(state, crossing, throat),
        plainly.is_witnessed(state, crossing, train.engine, throat),
    )
    is_plain = is_witnessed and plainly.is_there(state, train.engine, section.id, crossing.t, least)
    is_plain = is_plain or plainly.is_read_going(state, crossing, train.engine, throat)
    is_plain = is_plain and not plainly.may_be_another(state, train, section, throat, crossing.t)
    is_plain = is_plain and not plainly.may_come_out(state, train, section, crossing.t, least)
    allowed, why = authority.judge(state, section, train.id, throat, crossing.n, is_plain)
    way = _closed_way(state, section, train.id, throat)
    entry = Entry(cause, section.id, train.id, crossing.t, crossing.n, allowed, why, others, stranded, way, maybe)
    entry.is_plain, entry.least, entry.is_witnessed = is_plain, least, is_witnessed
    state.entries.setdefault(section.id, []).append(entry)
    out_s, first = state.clock.session_s(crossing.t), crossing.vehicle
    state.presences.setdefault(section.id, []).append(
        Presence(train.id, train.engine, section.id, throat, crossing.t, crossing.n, first, crossing.t, cause, out_s)
    )
    train.phase, train.section, train.station = Phase.OUT, section.id, station
    state.touch("section", section.id)
    state.touch("train", train.id)


def note_out(state: State, presence: Presence, crossing: Crossing) -> None:
    """Something more of a train goes in where it is held to be out already. An engine that is read going in long after has
    been back meanwhile, which nothing has told: what came before was a shunt, and it goes out now."""
    if crossing.by == "seen":
        presence.told_t = max(presence.told_t, crossing.t)
        is_anew = presence.anew_t > presence.out_t and crossing.t <= presence.anew_t + plainly.STRING_S
        if crossing.vehicle == presence.engine and not presence.departed and is_anew:
            presence.out_t, presence.n, presence.out_s = crossing.t, crossing.n, state.clock.session_s(crossing.t)
    presence.last_sign_t = max(presence.last_sign_t, crossing.t)


def look_again(state: State, presence: Presence) -> None:
    """What was not plain of an entry may be by now: judged as things are known now, for what it needs may have been given
    since."""
    railway = state.railway
    assert railway is not None
    entry = next((e for e in state.entries.get(presence.section, ()) if e.cause == presence.cause), None)
    if entry is None or presence.out_at is not None or (entry.is_plain and not entry.maybe):
        return
    entry.is_witnessed = entry.is_witnessed or presence.told_t > entry.t
    if not entry.is_plain:
        if not entry.is_witnessed or not plainly.is_there(state, presence.engine, presence.section, entry.t, entry.least):
            return
        section = railway.plant.sections[presence.section]
        train = state.roster.trains[presence.train]
        if plainly.may_be_another(state, train, section, presence.start, entry.t):
            return
        if plainly.may_come_out(state, train, section, entry.t, entry.least):
            return
        entry.is_plain = True
        if not entry.authorised:
            entry.authorised, entry.why = authority.judge(state, section, presence.train, presence.start, entry.n)
    met = [
        p.train
        for p in state.presences[presence.section]
        if p.train in entry.maybe and p.out_at is None and not p.told_clear and inside.is_plainly_in(state, p)
    ]
    entry.others = (*entry.others, *met)
    entry.maybe = tuple(train for train in entry.maybe if train not in met)
    state.touch("section", presence.section)


def _closed_way(state: State, section: Section, train: str, throat: str) -> str:
    """The direction in which a train enters, where the section is closed that way to all but a train that assists."""
    way = "down" if throat == section.from_throat else "up"
    held = state.authorities.grants.get(section.id, {}).get(train)
    return "" if way in section.directions or (held is not None and held.how == "assisting") else way


def gone_unseen(state: State, train: Train, section: Section, throat: str, t: float, n: int | None) -> Presence:
    """A train was seen at another station, and nothing had seen it go: it has departed, nobody can say by what authority."""
    cause = f"unseen:{section.id}:{train.id}:{n}"
    out_s = state.clock.session_s(t)
    presence = Presence(train.id, train.engine, section.id, throat, t, n, train.engine, t, cause, out_s)
    state.presences.setdefault(section.id, []).append(presence)
    state.touch("section", section.id)
    train.section = section.id
    depart(state, presence, train)
    return presence


def try_departed(state: State, presence: Presence) -> None:
    """Has a train that is out departed? Complete with nothing left to do here, told, seen elsewhere, or quiet long."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    train = state.roster.trains[presence.train]
    quiet = state.t >= round(presence.last_sign_t + limit(state, "out_after", 20.0), 6)
    behind = lagging(state, presence)
    is_outstanding = outstanding(state, train)
    on_road = [v for v in behind if where.place(v) in railway.plant.roads]
    held = [v for v in on_road if stretch_state(state, where.place(v)) != "clear" and not stays_on(state, v, where.place(v))]
    why = presence.out_at is not None or train.told_depart or (not behind and not is_outstanding)
    if why or (quiet and (not held or _has_its_tail(state, presence))):
        depart(state, presence, train)


def _has_its_tail(state: State, presence: Presence) -> bool:
    """True where what a train's tail is on was read going out with it: what may be left behind is then not to be fetched."""
    railway, where = state.railway, state.where
    assert railway is not None and where is not None
    tails = [v for v in where.company(presence.engine) if railway.stock[v].tail and where.place(v) == presence.section]
    return any(where.belief(v).by == "seen" and where.since(v) >= presence.out_t for v in tails)


def depart(state: State, presence: Presence, train: Train) -> None:
    """A train has departed: said with what it forgot, and what goes with it is taken along."""
    where = state.where
    assert where is not None
    presence.departed, was_told = True, train.told_depart
    train.phase, train.told_depart = Phase.IN_SECTION, False
    call = train.this_call()
    presence.goes_alone = gone.goes_alone(state, presence)
    took_over = where.follow(presence.engine, presence.section, state.t, presence.n, Expected(state))
    for change in took_over:
        spread(state, change)
    booked = call.road if call is not None and call.station == train.station else None
    train.late_s = late_s(state, presence.out_t, call.depart_s if booked is not None and call is not None else None)
    keys = {
        "train": train.id,
        "station": train.station,
        "road": train.road,
        "booked_road": booked,
        "late": train.late_s,
    }
    happened = round(presence.out_t, 6)
    for entry in [e for rows in state.entries.values() for e in rows if e.train == train.id and e.cause != presence.cause]:
        state.entries[entry.section].remove(entry)
        state.touch("section", entry.section)
    _forget_wrong_roads(state, train.engine)
    state.touch("train", train.id)
    train.departed_n = state.ledger.say("departed", keys, (presence.n,), happened)
    train.entered_n = state.ledger.say(
        "entered", {"train": train.id, "section": presence.section, "complete": None}, (presence.n,), happened
    )
    gone.train_left(state, train, presence, was_told)
    early.train_left(state, train, presence)
    overdue.train_left(state, train, presence)
    blocked.train_left(state, train, presence)
    reckoning.train_left(state, train, presence)
    doubting.train_left(state, train, presence)
    standing.train_departed(state, train.id)


def back(state: State, presence: Presence, n: int | None, *, has_stayed: bool = False) -> None:
    """A train is back at the station it went out from: it was a shunt. `has_stayed`: it turns out that it never went."""
    railway = state.railway
    assert railway is not None
    train = state.roster.trains[presence.train]
    state.presences[presence.section].remove(presence)
    state.shunted[presence.section] = (train.id, state.t)
    train.phase, train.section = Phase.AT_STATION, None
    if presence.departed:
        why = f"{train.id} has not left" if has_stayed else f"{train.id} came back: it was shunting"
        state.ledger.correct(train.departed_n, why, (n,))
        state.ledger.correct(train.entered_n, why, (n,))
        blocked.came_back(state, train)
        early.came_back(state, train, why, n)
        reckoning.came_back(state, train, why, n)
        doubting.came_back(state, train)
    entries = state.entries.get(presence.section, [])
    for entry in [e for e in entries if e.cause == presence.cause]:
        entries.remove(entry)
    authority.end(state, presence.section, train.id, SHUNTED_BACK, n)
    state.touch("section", presence.section)
    state.touch("train", train.id)


def end_train(state: State, train: Train, is_cancelled: bool = False) -> None:
    """A working is over: its engine's next one departs, or its last call's moves are done, or it does not run."""
    if train.phase is Phase.ENDED:
        return
    train.phase = Phase.ENDED
    gone.train_ended(train)
    early.train_ended(state, train)
    blocked.train_ended(state, train)
    reckoning.train_ended(state, train, is_cancelled)
    for rows in state.entries.values():
        for entry in [e for e in rows if e.train == train.id]:
            rows.remove(entry)
            state.touch("section", entry.section)
    state.touch("train", train.id)


def _forget_wrong_roads(state: State, engine: str) -> None:
    """An engine has departed: on which road it or a train that it worked before had come in is past."""
    for train in state.roster.trains.values():
        if train.engine == engine and train.wrong_road is not None:
            train.wrong_road = None
            state.touch("train", train.id)


def spread(state: State, change: Change) -> None:
    """Tell freight who joined and who was left, in the midst of a train's own movement."""
    if isinstance(change, Joined):
        freight.joined(state, change)
    elif isinstance(change, Left):
        freight.left(state, change)
