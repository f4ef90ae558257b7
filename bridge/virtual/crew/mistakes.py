"""Mistakes that crews can be told to make, by name: what each is, on whom, and who makes it.

Rule: a name alone lets the seed choose among the occasions that the plan gives; `NAME=SUBJECT` names it, several parts with
`+`. A mistake for which the railway gives no occasion is refused with what it would need.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from bridge.core.plan import Call, Railway, Working
from bridge.virtual import orders as o
from bridge.virtual.crew import foul_slips, lapses, slips, token_lapses
from bridge.virtual.crew import freight_occasions as freight
from bridge.virtual.crew import line_occasions as line
from bridge.virtual.crew.book import Book
from bridge.virtual.crew.lists import Job
from bridge.virtual.crew.mishap import Acts, Mishap
from bridge.virtual.crew.occasions import Found, Occasion
from bridge.virtual.crew.slips import Slip
from bridge.virtual.wishes import Wish, nearest

MISTAKES = {
    "forgotten-set-out": "a train goes on with a wagon that is booked to stay (=WAGON)",
    "missed-lift": "a train goes on without a wagon that it is booked to lift (=WAGON)",
    "wrong-siding": "a wagon is set out in the siding beside the booked one (=WAGON or =WAGON+ROAD)",
    "overfull": "a wagon is left in a siding beside the booked one that has no room for it (=WAGON or =WAGON+ROAD)",
    "left-foul": "what is set out in a siding is left hanging out of it, in the way of a train to come (=WAGON)",
    "wrong-road": "a train comes in on another road than booked (=WORKING or =WORKING+ROAD)",
    "section-clash": "a train draws out behind another that has not cleared the section (=WORKING or =WORKING+SECTION)",
    "early-departure": "a train leaves minutes before its time and waits for no crossing (=WORKING or =WORKING+STATION)",
    "divided": "a train loses its rear in a section, comes in short and goes back for it (=WORKING or =WORKING+SECTION)",
    "bridge-open": "a train sets off over what its proof does not prove (=WORKING or =WORKING+DETECTOR)",
    "no-token": "a train goes without its token, which stays where it lies (=WORKING or =WORKING+SECTION)",
    "wrong-token": "a train goes before its turn, with the token that is for another (=WORKING or =WORKING+SECTION)",
    "token-kept": "a token is forgotten on the engine and goes on with it, to its next call (=WORKING or =WORKING+SECTION)",
}

NEEDS = {
    "forgotten-set-out": "no booked set-out has a call from which its working goes on past a detector",
    "missed-lift": "no booked lift has a call from which its working goes on past a detector",
    "wrong-siding": "no siding with room and a reader lies beside one in which something is booked to be set out on the way",
    "overfull": "no siding with a reader, beside one in which something is booked to be set out, is so nearly full",
    "left-foul": "no train is booked past a siding, after something is set out there, where a detector covers the throat",
    "wrong-road": "no station has a second road for trains that is long enough and told of by a detector",
    "section-clash": "by the timetable no train stands by while another departs into a section that it can reach",
    "early-departure": "no departure has a time, and a detector that tells of it",
    "divided": "no train of two vehicles or more runs through a section in which what it leaves behind would be noticed",
    "bridge-open": "no proof guards what a train runs over",
    "no-token": "no train runs through a section that is worked by token or staff, past a detector",
    "wrong-token": "nowhere do two trains stand beside each other for the same token",
    "token-kept": "no train brings a token to a rest, for another train, and goes on",
}

_OCCASIONS: dict[str, Callable[[Railway], Found]] = {
    "forgotten-set-out": freight.forgotten,
    "missed-lift": freight.missed,
    "wrong-siding": freight.wrong_sidings,
    "overfull": freight.full_sidings,
    "left-foul": freight.left_foul,
    "wrong-road": line.wrong_roads,
    "section-clash": line.clashes,
    "early-departure": line.early,
    "divided": line.divisions,
    "bridge-open": line.unproved,
    "no-token": line.without_token,
    "wrong-token": line.others_tokens,
    "token-kept": line.kept_tokens,
}

_MADE: dict[str, Callable[[Book, Occasion], Slip]] = {
    "forgotten-set-out": slips.ForgottenSetOut,
    "missed-lift": slips.MissedLift,
    "wrong-siding": slips.WrongSiding,
    "overfull": foul_slips.Overfull,
    "left-foul": foul_slips.LeftFoul,
    "wrong-road": lapses.WrongRoad,
    "section-clash": lapses.SectionClash,
    "early-departure": lapses.EarlyDeparture,
    "divided": lapses.Divided,
    "bridge-open": lapses.BridgeOpen,
    "no-token": token_lapses.NoToken,
    "wrong-token": token_lapses.WrongToken,
    "token-kept": token_lapses.TokenKept,
}


class MistakeError(Exception):
    """A mistake that cannot be made, in words for people."""


@dataclass(frozen=True, slots=True)
class Mistake:
    """A mistake and its occasion."""

    name: str
    occasion: Occasion


def is_mistake(word: str) -> bool:
    """Whether a word of `--faults` names one of these."""
    return Wish(word).name in MISTAKES


def chosen_mistakes(words: Iterable[str], railway: Railway, seed: int) -> list[Mistake]:
    """The mistakes that these words ask for; raises `MistakeError`."""
    return [_chosen(Wish(word), railway, seed) for word in words]


def _chosen(wish: Wish, railway: Railway, seed: int) -> Mistake:
    possible, likely = _OCCASIONS[wish.name](railway)
    if not possible:
        raise MistakeError(f"{wish.name} cannot be made on this railway: {NEEDS[wish.name]}.")
    known = sorted({part for occasion in possible for part in occasion.words})
    if (subject := wish.unknown(known)) is not None:
        close = nearest(subject, known)
        hint = f"the nearest is {close}" if close else f"it can be made with {', '.join(known)}"
        raise MistakeError(f"{wish.name} cannot be made with {subject!r}; {hint}.")
    occasion = wish.choose(possible, likely, lambda one: one.words, seed)
    if occasion is None:
        raise MistakeError(f"{wish.word}: these do not come together on this railway.")
    return Mistake(wish.name, occasion)


def made_by(mistakes: Iterable[Mistake], book: Book) -> dict[str, Mishap]:
    """Who goes wrong how, by engine."""
    found: dict[str, list[Mishap]] = {}
    for mistake in mistakes:
        engine = book.scene.railway.workings[mistake.occasion.working].engine
        found.setdefault(engine, []).append(_MADE[mistake.name](book, mistake.occasion))
    return {engine: rows[0] if len(rows) == 1 else Several(rows) for engine, rows in found.items()}


class Several(Mishap):
    """Several mistakes of one crew, one after another."""

    def __init__(self, mishaps: Sequence[Mishap]) -> None:
        self._mishaps = mishaps

    def tasks(self, working: Working, call: Call, jobs: list[Job]) -> list[Job]:
        """What is left of them after each."""
        for mishap in self._mishaps:
            jobs = mishap.tasks(working, call, jobs)
        return jobs

    def room_mm(self, road: str, room_mm: float) -> float:
        """The most that any believes."""
        return max(mishap.room_mm(road, room_mm) for mishap in self._mishaps)

    def hangs_out_mm(self, road: str, group: Sequence[str]) -> float:
        """The furthest."""
        return max(mishap.hangs_out_mm(road, group) for mishap in self._mishaps)

    def calls(self, working: Working, call: Call) -> Acts[None]:
        """Each."""
        for mishap in self._mishaps:
            yield from mishap.calls(working, call)

    def departs_s(self, working: Working, call: Call) -> float | None:
        """The soonest."""
        times = [time for mishap in self._mishaps if (time := mishap.departs_s(working, call)) is not None]
        return min(times, default=None)

    def waits_for(self, working: Working, call: Call) -> Sequence[str]:
        """Only those for whom each waits."""
        return [w for w in call.wait_for if all(w in mishap.waits_for(working, call) for mishap in self._mishaps)]

    def next_road(self, working: Working, call: Call, road: str | None) -> str | None:
        """The first that is another."""
        return next((r for mishap in self._mishaps if (r := mishap.next_road(working, call, road)) != road), road)

    def takes_token(self, working: Working, call: Call, section: str) -> bool:
        """Where none forgets it."""
        return all(mishap.takes_token(working, call, section) for mishap in self._mishaps)

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """Each until one has gone in its own way."""
        for mishap in self._mishaps:
            if (yield from mishap.sets_off(working, call, order)):
                return True
        return False

    def has_come(self, working: Working, call: Call) -> Acts[None]:
        """Each."""
        for mishap in self._mishaps:
            yield from mishap.has_come(working, call)

    def lays_token(self, working: Working, call: Call, section: str) -> bool:
        """Where none forgets it."""
        return all(mishap.lays_token(working, call, section) for mishap in self._mishaps)

    def ended(self, working: Working) -> str:
        """What any has to say."""
        return "; ".join(filter(None, (mishap.ended(working) for mishap in self._mishaps)))
