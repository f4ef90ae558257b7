"""May this train go? For each train at a station that is booked on, an answer kept current, with its reason.

Rule: `yes` only where all is proved; `look` where anything is unknown or assumed; the crew decides, and each answer says so.
Of two trains that might go into one section only one may: who was told so first, until authority is given to the other.

An answer is made anew only for trains that what has changed concerns, and said when the answer or its sense has changed, not
for each second that passes. Before its booked time a train waits for that, or for what is likely to last longer.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from bridge.core.advice import foreseen, line_ahead, rivals, way_ahead
from bridge.core.advice.hindrances import Going, Hindrance, numbers
from bridge.core.clock import clock_text
from bridge.core.facts import Advice
from bridge.core.line.line_clear import OWN_S
from bridge.core.line.ways import way_of
from bridge.core.movement.trains import Phase, Train, section_after
from bridge.core.plant import DetectorKind
from bridge.core.readings import stretch_state

if TYPE_CHECKING:
    from bridge.core.plant import Detector
    from bridge.core.state import State

HOLD_S = 2.0  # a train going out comes on the section's detector before its end tells who it is: common practice, no source
DECIDES = "The crew decides."


def stir(state: State, stretch: str) -> None:
    """Something was seen on a stretch, or changed there: the trains that it concerns are looked at after it."""
    state.unadvised.update(state.heeding.get(("stretch", stretch), {}))


def seen(state: State, detector: Detector) -> None:
    """A detector said something that no stretch tells of: points, a proof, a token's rest."""
    if detector.kind in (DetectorKind.POINTS, DetectorKind.PROOF, DetectorKind.TOKEN_REST):
        stir(state, detector.at or detector.guards or detector.token or "")


def changed(state: State, fact: str, subject: str) -> None:
    """A fact has changed: who it concerns is looked at after it."""
    train = state.roster.trains.get(subject) if fact in ("train", "freight") else None
    if train is not None:
        state.unadvised[subject] = None
        state.unadvised.update(state.heeding.get(("train", subject), {}))
        if state.where is not None:
            stir(state, state.where.place(train.engine))
    elif fact == "section":
        stir(state, subject)
    elif fact == "detector" and state.railway is not None:
        detector = state.railway.plant.detectors[subject]
        for stretch in (state.railway.plant.stretch_of(detector), detector.at, detector.guards):
            stir(state, stretch or "")


def come_due(state: State, train: str) -> None:
    """The booked time of a train has come, or what was foretold for it should have come to pass."""
    state.unadvised[train] = None


def pass_deadline(state: State) -> None:
    """Answers that were held back for a moment."""
    while (found := state.advising.pop(state.t)) is not None:
        state.unadvised[found[1][1]] = None


def due(state: State) -> float | None:
    """The next such moment."""
    return state.advising.first()


def after(state: State) -> None:
    """Once an event is digested: the answers that have changed."""
    while state.unadvised:
        name = next(iter(state.unadvised))
        del state.unadvised[name]
        _advise(state, state.roster.trains[name])


def say(state: State, train: str) -> None:
    """Say the present answer for a train."""
    advice = state.advice[train]
    keys = {
        "train": train,
        "section": advice.section,
        "answer": advice.answer,
        "why": why(state, advice),
        "seconds": seconds(state, advice),
    }
    state.ledger.say("may-go", keys, advice.evidence)


def seconds(state: State, advice: Advice) -> int | None:
    """Session seconds until it may go, as is foretold; None where nothing can be said."""
    now_s = state.clock.session_s(state.t)
    if advice.answer == "yes":
        return 0
    if advice.until_s is None or now_s is None or advice.until_s <= now_s:
        return None
    return math.ceil(advice.until_s - now_s)


def why(state: State, advice: Advice) -> str:
    """The reason in plain words, as it reads now."""
    start = {"yes": "May go", "wait": "Not yet", "look": "Look first"}[advice.answer]
    left_s = seconds(state, advice)
    about = f", about {max(1, round(left_s / 60))} min" if left_s else ""
    return f"{start}: {advice.sense}{about}. {DECIDES}"


def _advise(state: State, train: Train) -> None:
    """Make the answer for one train anew."""
    going = _going(state, train)
    _heed(state, train, going)
    before = state.advice.get(train.id)
    if going is None:
        foreseen.look(state, train, None, [])
    if going is None and train.phase is Phase.OUT:
        return  # it may be back from a shunt in a moment
    if before is not None and (going is None or before.section != going.section.id):
        _release(state, train, before.section)
    if going is None:
        state.advice.pop(train.id, None)
        return
    found = [*line_ahead.against(state, going), *way_ahead.against(state, going)]
    foreseen.look(state, train, going, found)
    held_t = _held_until(state, going, found)
    if held_t is not None and before is not None and (before.call, before.answer) == (train.call, "yes"):
        state.advising.set("may-go", train.id, held_t)
        return
    _wake(state, going, found)
    again_t = min((h.again_t for h in found if h.again_t is not None), default=None)
    if again_t is not None:
        state.advising.set("may-go", train.id, again_t)
    answer, said = _answer(state, going, found)
    other = state.offered.get(going.section.id, train.id)
    if answer == "yes" and other != train.id:
        answer, said = "wait", Hindrance(f"{other} may go first")
    if answer == "yes":
        state.offered[going.section.id] = train.id
    else:
        _release(state, train, going.section.id)
    now = Advice(train.call, going.section.id, answer, said.words, said.until_s, said.evidence)
    state.advice[train.id] = now
    if is_news(before, now):
        say(state, train.id)


def _release(state: State, train: Train, section: str) -> None:
    """Another may have the section, where it was this train's to go into."""
    if state.offered.get(section) == train.id:
        del state.offered[section]
        stir(state, section)


def is_news(before: Advice | None, now: Advice) -> bool:
    """True where an answer is not what was said before, however long it may take."""
    alike = before is not None and (before.call, before.section) == (now.call, now.section)
    return before is None or not alike or (before.answer, before.sense) != (now.answer, now.sense)


def _held_until(state: State, going: Going, found: list[Hindrance]) -> float | None:
    """Until when (host seconds) a `yes` stands although detectors of the section have come on: most likely that is the train
    itself, going out or just back from a shunt. None where anything else stands against it."""
    if not found or any(h.since_t is None for h in found):
        return None
    shunter, back_t = state.shunted.get(going.section.id, ("", 0.0))
    since_t = min(h.since_t or 0.0 for h in found)
    if shunter == going.train.id:
        since_t = max(since_t, back_t)
    where = state.where
    is_moving = where is not None and going.throat in (where.place(going.train.engine), *_occupied(state, going.throat))
    until_t = round(since_t + (OWN_S if is_moving else HOLD_S), 6)
    return until_t if until_t > state.t else None


def _occupied(state: State, throat: str) -> tuple[str, ...]:
    return (throat,) if stretch_state(state, throat) == "occupied" else ()


def _going(state: State, train: Train) -> Going | None:
    """The booked going of a train that stands where it is booked to leave; None for any other."""
    railway, call, then = state.railway, train.this_call(), train.next_call()
    section = None if railway is None else section_after(railway, train)
    is_ready = train.phase is Phase.AT_STATION and state.roster.current(train.engine) is train
    if not is_ready or call is None or then is None or section is None or train.station != call.station:
        return None
    throat, far = section.from_throat, section.to_throat
    if throat.partition(".")[0] != call.station or (section.directions == ("up",) and far.startswith(f"{call.station}.")):
        throat, far = far, throat
    return Going(train, call, then, section, throat, far)


def _answer(state: State, going: Going, found: list[Hindrance]) -> tuple[str, Hindrance]:
    """The answer, and the one reason for it."""
    now_s, depart_s = state.clock.session_s(state.t), going.call.depart_s
    waits = [h for h in found if not h.look]
    if depart_s is not None and now_s is not None and now_s < depart_s:
        its_time = Hindrance(f"it is booked to leave at {clock_text(depart_s)[:5]}", until_s=depart_s)
        return "wait", max((its_time, *waits), key=lambda h: h.until_s or 0.0)
    if waits:
        return "wait", waits[0]
    if found:
        return "look", found[0]
    section = going.section.id
    held = state.authorities.grants.get(section, {}).get(going.train.id)
    has = ""
    if held is not None and held.how in ("token", "ticket"):
        has = f"it has {way_of(going.section).thing if held.how == 'token' else 'the ticket'}, and "
    return "yes", Hindrance(f"{has}{section} is clear", evidence=_proof(state, section))


def _wake(state: State, going: Going, found: list[Hindrance]) -> None:
    """Look again when its time comes, and when what was foretold should have come to pass."""
    now_s = state.clock.session_s(state.t) or 0.0
    moments = [
        s
        for s in (going.call.depart_s, foreseen.wakes_s(state, going), *(h.until_s for h in found))
        if s is not None and s > now_s
    ]
    if moments:
        state.timed.set("may-go", going.train.id, min(moments))
    else:
        state.timed.drop("may-go", going.train.id)


def _proof(state: State, section: str) -> tuple[int, ...]:
    """The journal numbers on which it rests that a section is clear."""
    railway, conditioning = state.railway, state.conditioning
    assert railway is not None and conditioning is not None
    return numbers(*(conditioning.detectors[d.id].evidence for d in railway.plant.covering.get(section, ())))


def _heed(state: State, train: Train, going: Going | None) -> None:
    """Keep what concerns a train, so that it is looked at when that changes."""
    for subject in state.heeded.pop(train.id, ()):
        state.heeding[subject].pop(train.id, None)
    state.advising.drop("may-go", train.id)
    if going is None:
        state.timed.drop("may-go", train.id)
        return
    roads = state.railway.plant.stations[going.then.station].roads if state.railway is not None else ()
    stretches = (going.section.id, going.throat, going.far, *roads, train.road or going.call.road)
    ahead = [rival.train for rival in rivals.ahead(state, train, going.call, going.section)]
    heeded = [("stretch", s) for s in dict.fromkeys(stretches)] + [("train", t) for t in dict.fromkeys(ahead)]
    state.heeded[train.id] = tuple(heeded)
    for subject in heeded:
        state.heeding.setdefault(subject, {})[train.id] = None
