"""Open questions: what is in doubt, each matter by itself.

Rule: what two open questions are about has nothing to do with each other, so their probabilities multiply, and one that
evidence does not concern costs nothing. Where a piece of evidence concerns several they become one; where a question falls
into parts that tell nothing of each other it is taken apart; one with a single answer is closed, and that is common ground.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from math import exp, log
from operator import attrgetter
from typing import Any, NamedTuple, TypeVar

from bridge.core.whereabouts import OFF
from bridge.core.whereabouts.weighing.agreeing import Agreed, Beside
from bridge.core.whereabouts.weighing.arrangement import Arrangement, Ground, InDoubtError, Subject
from bridge.core.whereabouts.weighing.crossing import VEHICLE, Line, Passed
from bridge.core.whereabouts.weighing.hypotheses import HOPELESS, Branches, Hypothesis
from bridge.core.whereabouts.weighing.parting import parted

MOST = 12  # so many hypotheses are weighed in one question
SORTS = MOST // 2  # of so many sorts that readers will tell apart the likeliest is among them
BRANCHES = 8  # so many times as many things that may follow are held against each other
JOINED = 3  # so many times as many are weighed while several questions become one
CLEARLY = log(2.0)  # so much likelier than the one that is held another has to be, to be held instead

Explain = Callable[[Hypothesis, Branches], None]
"""What may follow from a hypothesis is added to the branches. It may be added itself, with another weight, where all stands
as it did; how things stand is changed in branches of it alone, for it may have to be explained once more."""
Weighted = TypeVar("Weighted", "Hypothesis", "Pair")
_weight = attrgetter("weight")


class Question:
    """One matter in doubt: hypotheses that differ in the same things, the likeliest first; probabilities that sum to one.
    `held`: the answer that the rest of the core is shown."""

    __slots__ = ("about", "held", "rows")

    def __init__(self, rows: list[Hypothesis], about: Iterable[Subject], held: Hypothesis) -> None:
        self.rows, self.about, self.held = rows, tuple(about), held


class Weighed(NamedTuple):
    """What a piece of evidence came to: all that may follow from it, the likeliest first, which of these is held, and the
    vehicles and stretches that were otherwise in any of them."""

    rows: Sequence[Hypothesis]
    held: Hypothesis
    agreed: Agreed


class Questions:
    """All open questions, and the ground that they stand on. `mute`: as of the ground; `told_of`: the stretches of which a
    reader tells what comes out."""

    def __init__(self, mute: frozenset[str] = frozenset(), told_of: frozenset[str] = frozenset()) -> None:
        self._ground, self._told_of = Ground(mute), told_of
        self.loose: dict[str, float] = {}
        """Vehicle to the share of all probability that was let go since it was last seen, in what concerned it."""
        self.let_go = 0.0
        """The share of all probability that was let go so far, at most."""

    # --- weighing

    def weigh(self, explain: Explain, recent_t: float, *, part: bool, asks: Subject | None = None) -> Weighed:
        """Explain a piece of evidence by each hypothesis that it concerns; what came of it. What passed a boundary before
        `recent_t` need not be told apart any more. `part`: see whether the question falls into parts. `asks`: what will be
        asked of hypotheses first."""
        branches, concerned, gone = self._explained(explain, asks)
        in_doubt = self._ground.in_doubt
        for question in concerned:
            for subject in question.about:
                del in_doubt[subject]
        return self._settle(branches, recent_t, part, gone)

    def _explained(self, explain: Explain, asks: Subject | None) -> tuple[Branches, list[Question], float]:
        """What may follow from all hypotheses that a piece of evidence concerns, the questions that they were of, and the
        share of all probability that was let go as these became one: what was let go is taken to explain the evidence as
        well as what was kept does."""
        in_doubt = self._ground.in_doubt
        concerned: list[Question] = [in_doubt[asks]] if asks is not None and asks in in_doubt else []
        while True:
            branches, unjoined = Branches(), list[float]()
            try:
                for row in _joined(concerned, self._ground, unjoined):
                    explain(row, branches)
            except InDoubtError as doubt:
                concerned.append(in_doubt[doubt.subject])
            else:
                return branches, concerned, sum(map(exp, unjoined))

    def _settle(self, branches: Branches, recent_t: float, part: bool, unjoined: float) -> Weighed:
        lost = branches.lost
        rows, agreed, let_go = self._agreed(_likeliest(branches.rows, BRANCHES * MOST, lost), recent_t, lost)
        gone = 1.0 - (1.0 - let_go) * (1.0 - unjoined)
        self.let_go += (1.0 - self.let_go) * gone
        for vehicle in agreed.vehicles:
            self.loose[vehicle] = 1.0 - (1.0 - self.loose.get(vehicle, 0.0)) * (1.0 - gone)
        held = _hold(rows)
        if len(rows) == 1:
            return Weighed(rows, held, agreed)
        in_doubt = self._ground.in_doubt
        if part or len(rows) == MOST:
            questions = [Question(answers, answers[0].stands.own, _held(answers)) for answers in parted(rows)]
        else:
            questions = [Question(rows, agreed.doubtful, held)]
        for question in questions:
            in_doubt.update(dict.fromkeys(question.about, question))
        return Weighed(rows, held, agreed)

    def _agreed(self, rows: list[Hypothesis], recent_t: float, lost: list[float]) -> tuple[list[Hypothesis], Agreed, float]:
        """Of those in which everything is alike one, as likely as all of them, the likeliest first and no more than so many;
        in what they agree; the share of all probability that was let go."""
        beside = Beside(self._ground, [row.stands for row in rows], recent_t)
        kept = _told_apart(rows, beside)
        if len(kept) > MOST:
            kept = _of_all_sorts(rows, kept, beside.lines_of(self._told_of), lost)
        found = [rows[number] for number in kept]
        return found, beside.agree(kept), self._normalise(found, lost)

    def _normalise(self, rows: Sequence[Hypothesis], lost: Iterable[float]) -> float:
        """Let the weights be probabilities again; the share of what was let go."""
        top = rows[0].weight
        kept = sum(map(exp, [row.weight - top for row in rows]))
        gone = sum(map(exp, [weight - top for weight in lost]))
        whole = top + log(kept)
        for row in rows:
            row.weight -= whole
        return gone / (kept + gone)

    def seen(self, vehicle: str) -> None:
        """A vehicle was seen: what was let go before tells nothing of it any more."""
        self.loose.pop(vehicle, None)

    # --- what is believed

    @property
    def open(self) -> list[Question]:
        """All open questions, in a steady order."""
        return list({id(question): question for question in self._ground.in_doubt.values()}.values())

    def places(self, vehicle: str) -> dict[str, float]:
        """Stretch to the probability that a vehicle is there."""
        question = self._ground.in_doubt.get(VEHICLE + vehicle)
        if question is None:
            return {self._ground.has.get(VEHICLE + vehicle, OFF): 1.0}
        found: dict[str, float] = {}
        for row in question.rows:
            place = row.stands.place(vehicle)
            found[place] = found.get(place, 0.0) + exp(row.weight)
        return found

    def line(self, stretch: str) -> Line:
        """The vehicles on a stretch from its end 0, as held."""
        return self.lines_held([stretch])[0]

    def place(self, vehicle: str) -> str:
        """The stretch of a vehicle, as held."""
        return self.places_held([vehicle])[0]

    def last_at(self, boundary: str) -> Passed | None:
        """The last vehicle at a boundary, as held."""
        last: Passed | None = self._held([boundary], None)[0]
        return last

    def places_held(self, vehicles: Iterable[str]) -> list[str]:
        """The stretch of each of these, as held."""
        return self._held([VEHICLE + vehicle for vehicle in vehicles], OFF)

    def lines_held(self, stretches: Iterable[str]) -> list[Line]:
        """The vehicles on each of these from its end 0, as held."""
        return self._held(stretches, ())

    def _held(self, subjects: Iterable[Subject], otherwise: Any) -> list[Any]:
        in_doubt, has = self._ground.in_doubt, self._ground.has
        return [in_doubt[each].held.stands.own[each] if each in in_doubt else has.get(each, otherwise) for each in subjects]


def _joined(questions: Sequence[Question], ground: Ground, lost: list[float]) -> Sequence[Hypothesis]:
    """Every answer of one together with every answer of the others, the likeliest first; of what is let go the weight goes
    to `lost`."""
    if not questions:
        return [Hypothesis(Arrangement(ground))]
    if len(questions) == 1:
        return [Hypothesis(row.stands, row.weight, row.held) for row in questions[0].rows]
    rows = questions[0].rows
    for question in questions[1:]:
        pairs = [Pair(row.weight + other.weight, row, other) for row in rows for other in question.rows]
        rows = [pair.joined() for pair in _likeliest(pairs, JOINED * MOST, lost)]
    return rows


class Pair:
    """An answer of one question and an answer of another."""

    __slots__ = ("_one", "_other", "weight")

    def __init__(self, weight: float, one: Hypothesis, other: Hypothesis) -> None:
        self.weight, self._one, self._other = weight, one, other

    def joined(self) -> Hypothesis:
        """Both as one."""
        one, other = self._one, self._other
        return Hypothesis(one.stands.with_(other.stands), self.weight, one.held and other.held)


def _likeliest(rows: Sequence[Weighted], most: int, lost: list[float]) -> list[Weighted]:
    """Those that are not hopeless beside the likeliest, and no more than so many, the likeliest first; of the others the
    weight goes to `lost`."""
    ranked = sorted(rows, key=_weight, reverse=True)
    least = ranked[0].weight - HOPELESS
    kept = ranked[:most] if ranked[-1].weight > least else [row for row in ranked[:most] if row.weight > least]
    lost += [row.weight for row in ranked[len(kept) :]]
    return kept


def _told_apart(rows: Sequence[Hypothesis], beside: Beside) -> list[int]:
    """The numbers of those that are not alike, the likeliest first. The likelier of two that are alike stays, for it comes
    first, and is as likely as both."""
    if len(rows) == 1:
        return [0]
    firsts: dict[object, int] = {}
    for number, key in enumerate(beside.keys()):
        first = firsts.setdefault(key, number)
        if first != number:
            rows[first].take_in(rows[number])
    weights = list(map(_weight, rows))
    return sorted(firsts.values(), key=weights.__getitem__, reverse=True)


def _of_all_sorts(rows: Sequence[Hypothesis], kept: Sequence[int], sorts: Sequence[object], lost: list[float]) -> list[int]:
    """The numbers of those that stay: the likeliest of each of the likeliest sorts, then the likeliest of all. On which road
    a train waits is often told by nothing, which makes many answers; they would crowd out the only one in which another
    wagon has come out of a siding, which the next read there would bear out."""
    firsts: dict[object, int] = {}
    chances: dict[object, float] = {}
    top = rows[kept[0]].weight
    for number in kept:
        sort = sorts[number]
        firsts.setdefault(sort, number)
        chances[sort] = chances.get(sort, 0.0) + exp(rows[number].weight - top)
    likeliest = sorted(firsts, key=chances.__getitem__, reverse=True)[:SORTS]
    stay = {firsts[sort] for sort in likeliest}
    for number in kept:
        if len(stay) < MOST:
            stay.add(number)
    lost += [rows[number].weight for number in kept if number not in stay]
    return [number for number in kept if number in stay]


def _hold(rows: Sequence[Hypothesis]) -> Hypothesis:
    """The likeliest that follows from what was held stays held, unless another is clearly likelier."""
    held = _held(rows)
    if held.weight < rows[0].weight - CLEARLY:
        held = rows[0]
    for row in rows:
        row.held = row is held
    return held


def _held(rows: Sequence[Hypothesis]) -> Hypothesis:
    """The likeliest of those that are held; the likeliest of all where none is."""
    for row in rows:
        if row.held:
            return row
    return rows[0]
