"""A string of vehicles walks to and fro past the reader at a siding's mouth: the same as a hidden Markov model in hmmlearn.

Its states are who was last at the reader and on which side of it that vehicle then stood, which is the cut between those
inside and those outside; its chances are the engine's own, put together here anew.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp

import numpy as np
from hmmlearn.hmm import CategoricalHMM

from bridge.core.whereabouts.weighing import chances as c
from bridge.core.whereabouts.weighing.questions import Questions
from bridge.core.whereabouts.weighing.yard import Yard

from .yards import Evidence, Expecting, explain, plant, set_down, stock

MOUTH = "ash.dock@down"
WALKS = 300
NEAR = 3.0  # the best two cuts are within this factor: no verdict
RECENT_S = 20.0


@dataclass(frozen=True)
class Walk:
    """What was read, (host seconds, vehicle), and how many of the string were inside at the end."""

    string: tuple[str, ...]
    reads: tuple[tuple[float, str], ...]
    inside: int


def walked(seed: int) -> Walk:
    """An engine pushes a string some way in, draws it some way out, and so on; a vehicle may stop under the reader."""
    chance = random.Random(f"walk {seed}")
    string = (*(f"w{n}" for n in range(1, chance.randint(3, 7))), "e1")
    missed, repeated = chance.choice((0.0, 0.05, 0.1, 0.2)), chance.choice((0.0, 0.1, 0.3))
    reads: list[tuple[float, str]] = []
    t, inside, inward = 100.0, 0, True

    def pass_reader(vehicle: str) -> None:
        nonlocal t
        t += chance.uniform(0.5, 1.5)
        if chance.random() >= missed:
            reads.append((t, vehicle))
            if chance.random() < repeated:
                t += chance.uniform(0.05, 0.4)
                reads.append((t, vehicle))

    for _ in range(chance.randint(1, 4)):
        goal = chance.randint(inside + 1, len(string)) if inward else chance.randint(0, inside - 1)
        for index in range(inside, goal) if inward else range(inside - 1, goal - 1, -1):
            pass_reader(string[index])
        inside = goal
        if chance.random() < 0.1 and 0 < inside < len(string):
            pass_reader(string[inside if inward else inside - 1])
        t += c.SOON_S + 0.1
        inward = not inward if 0 < inside < len(string) else inside == 0
    return Walk(string, tuple(reads), inside)


def passings(walk: Walk) -> list[str]:
    """Who came to the reader: the same vehicle again so soon is the same passing."""
    found: list[str] = []
    last_t = -1e9
    for t, vehicle in walk.reads:
        if not (found and found[-1] == vehicle and t - last_t < c.AGAIN_S):
            found.append(vehicle)
        last_t = t
    return found


class Model:
    """The walk as a hidden Markov model. State 0: nothing was read yet; 1 + 2 i: vehicle i was last, and stands inside; one
    more: outside. The last state takes what a chance lacks to one: whoever gets there is read no more."""

    def __init__(self, yard: Yard, string: Sequence[str]) -> None:
        self.string, size = list(string), len(string)
        weights = np.zeros((2 * size + 2, 2 * size + 2))
        for state in range(2 * size + 1):
            inside = self.cut(state)
            for i in range(size):
                between = string[inside:i] if i >= inside else string[i + 1 : inside]
                chance = (1.0 - yard.quality.missed(MOUTH)) * exp(sum(yard.unread(v, MOUTH) for v in between))
                touches = c.ENGINE_TOUCHES if i >= inside and string[i] in yard.engines else c.TOUCHES
                within, without = (1.0 - touches, touches) if i >= inside else (touches, 1.0 - touches)
                weights[state, 1 + 2 * i] = chance * within
                weights[state, 2 + 2 * i] = chance * without
        weights /= weights.sum(axis=1).max()
        weights[:, -1] = np.maximum(0.0, 1.0 - weights.sum(axis=1))
        weights[-1] = np.eye(2 * size + 2)[-1]
        self._hmm = CategoricalHMM(2 * size + 2)
        self._hmm.n_features = size + 2
        self._hmm.startprob_ = np.eye(2 * size + 2)[0]
        self._hmm.transmat_ = weights
        emitted = [0, *(1 + i // 2 for i in range(2 * size)), size + 1]
        self._hmm.emissionprob_ = np.eye(size + 2)[emitted]

    def cut(self, state: int) -> int:
        """So many stand inside."""
        return 0 if state == 0 else (state - 1) // 2 + (state % 2)

    def _symbols(self, read: Sequence[str]) -> np.ndarray:
        return np.array([[0], *([1 + self.string.index(vehicle)] for vehicle in read)])

    def viterbi(self, read: Sequence[str]) -> int:
        """The cut at the end of the likeliest walk."""
        return self.cut(int(self._hmm.predict(self._symbols(read))[-1]))

    def cuts(self, read: Sequence[str]) -> np.ndarray:
        """The probability of each cut at the end."""
        found = np.zeros(len(self.string) + 1)
        for state, chance in enumerate(self._hmm.predict_proba(self._symbols(read))[-1][:-1]):
            found[self.cut(state)] += chance
        return found


def yard_of(walk: Walk) -> Yard:
    roads = {"ash.dock": ("siding", "down")}
    return Yard(plant(roads, [("ash.down", "birch.up")], [MOUTH]), stock(*walk.string))


def weighed(yard: Yard, walk: Walk) -> np.ndarray:
    """The probability of each cut, as the engine has it, of all in which the string is whole and in its order."""
    found = Questions()
    found.weigh(set_down([(v, "ash.down") for v in walk.string]), 0.0, part=True)
    seen = dict.fromkeys(walk.string, "ash")
    for t, vehicle in walk.reads:
        found.weigh(explain(yard, Expecting(), Evidence("read", MOUTH, t, vehicle), seen), t - RECENT_S, part=False)
    cuts = np.zeros(len(walk.string) + 1)
    rows = next((q.rows for q in found.open if "ash.dock" in q.about), None)
    if rows is None:
        cuts[len(found.line("ash.dock"))] = 1.0
        return cuts
    for row in rows:
        inside = row.stands.line("ash.dock")
        if inside + row.stands.line("ash.down") == walk.string:
            cuts[len(inside)] += exp(row.weight)
    return cuts


def test_the_cut_is_that_of_a_hidden_markov_model(figure: Callable[[str], None]) -> None:
    near = right = right_model = 0
    off, other, whole = [], [], []
    for seed in range(WALKS):
        walk = walked(seed)
        yard = yard_of(walk)
        model, read = Model(yard, walk.string), passings(walk)
        exact, said = model.cuts(read), weighed(yard, walk)
        whole.append(said.sum())
        said = said / said.sum()
        off.append(float(abs(exact - said).max()))
        best, second = sorted(exact)[:-3:-1]
        right += int(said.argmax()) == walk.inside
        right_model += model.viterbi(read) == walk.inside
        if best < NEAR * second:
            near += 1
        elif not int(said.argmax()) == model.viterbi(read) == int(exact.argmax()):
            other.append((seed, walk, exact.round(4), said.round(4), model.viterbi(read)))
    figure(
        f"walks past a reader: {WALKS}, the best two cuts of {near} within a factor {NEAR:g}; cut right in {right}, "
        f"by Viterbi in {right_model}; probabilities off by {np.median(off):.1e} in the median, {max(off):.1e} at most; "
        f"string whole {np.mean(whole):.3f}"
    )
    assert not other
    assert np.quantile(off, 0.99) < 0.01
