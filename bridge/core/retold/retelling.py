"""Two tellings of the same past held against each other: what was said, and what should have been.

Rule: what holds in both is not said again, and keeps its number. What was said and does not hold is corrected, then what
stands instead is said, with when it happened. How a detector stood, where a vehicle was in between, and whether a train
might go, is not corrected: there the present is said.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from bridge.core.advice import may_go
from bridge.core.ledger import Item, Ledger, Recall, differs
from bridge.core.outcomes import Outcome
from bridge.core.places import say_place, wording

if TYPE_CHECKING:
    from bridge.core.state import State

KEYS: Mapping[str, tuple[str, ...]] = {
    "departed": ("train", "station", "road", "booked_road"),
    "arrived": ("train", "station", "road", "booked_road"),
    "entered": ("train", "section"),
    "cleared": ("train", "section", "complete"),
    "authority": ("section", "train", "state", "why"),
    "lifted": ("vehicle", "road", "train", "booked"),
    "set-out": ("vehicle", "road", "train", "booked"),
    "move": ("vehicle", "from", "to", "train", "state"),
    "session": ("state",),
    "corrected": ("of",),
}
"""What is held against each other, and by which keys a thing said is the same thing."""

WHY = "what came late shows it otherwise"


@dataclass(slots=True)
class Statement:
    """One thing stated. `n`: the number it was said by, 0 where it was taken back before it could be said."""

    said: Outcome
    n: int
    withdrawn: bool = False


def is_statement(outcome: Outcome) -> bool:
    """True for what is held against another telling."""
    return outcome.says in KEYS


def add(statements: list[Statement], said: Iterable[Outcome]) -> None:
    """Take what has been said into the list."""
    for outcome in said:
        if is_statement(outcome):
            statements.append(Statement(outcome, outcome.n))
            if outcome.says == "corrected":
                for row in statements:
                    row.withdrawn = row.withdrawn or row.n == outcome.keys["of"]


def begin(again: Ledger, before: Ledger, n: int) -> None:
    """Let a ledger of the past write what is only held against what was said: by numbers from `n`, with the known names."""
    again.n, again.opened = n, before.opened
    again.counts, again.same = before.counts.copy(), before.same
    again.recall = Recall.of(before.items, again.items)


def tell_difference(
    before: State,
    now: State,
    earlier: Sequence[Statement],
    stated: Sequence[Statement],
    again: Sequence[Outcome],
    placed: frozenset[int],
) -> list[Statement]:
    """Say what differs, in the ledger of `now`; the statements that stand from here on, one for each of `again`.

    `stated` and `again` are of the same span of time, `earlier` was stated before it; `placed` are the journal numbers of
    the evidence that came late.
    """
    ledger = now.ledger
    ledger.n, ledger.recall = before.ledger.n, None
    pairs = _pairs(stated, again)
    _correct(before, now, stated, again, pairs, placed)
    _settle_earlier(ledger, earlier, stated, again, placed)
    rows = _say_what_stands(before, now, again, pairs, placed)
    _say_items(before.ledger, ledger, placed)
    now.reply, now.said_where = before.reply, before.said_where
    if now.running and now.railway is not None:
        for vehicle in now.railway.stock:
            say_place(now, vehicle)
        for train, advice in now.advice.items():
            if may_go.is_news(before.advice.get(train), advice):
                may_go.say(now, train)
    return rows


def _key(outcome: Outcome) -> tuple[object, ...]:
    sure = outcome.keys.get("sure")
    how = wording(sure) if isinstance(sure, float) and outcome.says != "move" else ""
    return (outcome.says, how, *(outcome.keys[name] for name in KEYS[outcome.says]))


def _pairs(stated: Sequence[Statement], again: Sequence[Outcome]) -> dict[int, Statement]:
    """Which statement each thing told again was before, by its number in this telling."""
    free: dict[tuple[object, ...], list[Statement]] = {}
    for row in stated:
        if row.said.says != "corrected":
            free.setdefault(_key(row.said), []).append(row)
    withdrawn = _withdrawn(again)
    pairs: dict[int, Statement] = {}
    for outcome in again:
        if is_statement(outcome) and outcome.says != "corrected" and (alike := free.get(_key(outcome))):
            same = [row for row in alike if row.withdrawn == (outcome.n in withdrawn)]
            pairs[outcome.n] = found = (same or alike)[0]
            alike.remove(found)
    return pairs


def _withdrawn(again: Iterable[Outcome]) -> dict[int, Outcome]:
    return {outcome.keys["of"]: outcome for outcome in again if outcome.says == "corrected"}


def _corrected(ledger: Ledger, said: Iterable[Outcome]) -> set[int]:
    """What is corrected among these, by the numbers that it was said by."""
    numbers = (outcome.keys["of"] for outcome in said if outcome.says == "corrected")
    return {ledger.same.get(n, n) for n in numbers}


def _correct(
    before: State,
    now: State,
    stated: Sequence[Statement],
    again: Sequence[Outcome],
    pairs: Mapping[int, Statement],
    placed: frozenset[int],
) -> None:
    """Correct what was said and does not hold."""
    ledger = now.ledger
    withdrawn = _withdrawn(again)
    found = {id(row) for row in pairs.values()}
    wrong: dict[int, str] = {}
    for row in stated:
        if row.n and not row.withdrawn and row.said.says not in ("corrected", "session") and id(row) not in found:
            wrong[row.n] = WHY
    for number, row in pairs.items():
        if number in withdrawn and row.n and not row.withdrawn:
            wrong[row.n] = str(withdrawn[number].keys["why"])
    was_withdrawn = _corrected(ledger, (row.said for row in stated))
    told_again = {outcome.n for outcome in again}
    for of, outcome in withdrawn.items():
        older = ledger.same.get(of, of)
        if of not in told_again and older not in was_withdrawn:
            wrong[older] = str(outcome.keys["why"])
    for cause, item in before.ledger.items.items():
        if item.id not in ledger.by_id and cause not in ledger.items:
            if not item.withdrawn:
                wrong.update(dict.fromkeys(item.numbers, WHY))
            item.open, item.withdrawn = False, True
            ledger.items[cause], ledger.by_id[item.id] = item, cause
    for n in sorted(wrong):
        ledger.correct(n, wrong[n], placed)


def _settle_earlier(
    ledger: Ledger,
    earlier: Sequence[Statement],
    stated: Sequence[Statement],
    again: Sequence[Outcome],
    placed: frozenset[int],
) -> None:
    """What was stated before this span: said anew where it was corrected within the span and is not any more."""
    was, is_now = _corrected(ledger, (row.said for row in stated)), _corrected(ledger, again)
    for row in [row for row in earlier if row.n in was ^ is_now]:
        row.withdrawn = row.n in is_now
        if not row.withdrawn:
            n = ledger.repeat(row.said, placed)
            ledger.same.update({number: n for number, said in ledger.same.items() if said == row.n} | {row.n: n})
            row.n = n


def _say_what_stands(
    before: State, now: State, again: Sequence[Outcome], pairs: Mapping[int, Statement], placed: frozenset[int]
) -> list[Statement]:
    """Say what was not said, or had been taken back."""
    ledger, withdrawn = now.ledger, _withdrawn(again)
    rows: list[Statement] = []
    for outcome in again:
        if outcome.says == "observed":
            if placed.intersection(outcome.evidence):
                ledger.repeat(outcome)
        elif outcome.says == "irregularity":
            if outcome.keys["id"] not in before.ledger.by_id:
                ledger.repeat(outcome, placed)
        elif is_statement(outcome):
            row, is_withdrawn = pairs.get(outcome.n), outcome.n in withdrawn
            n = 0 if row is None else row.n
            if outcome.says != "corrected" and not is_withdrawn and (row is None or row.withdrawn or not row.n):
                n = ledger.repeat(outcome, placed)
            elif n:
                ledger.same[outcome.n] = n
            rows.append(Statement(outcome, n, is_withdrawn))
    return rows


def _say_items(before: Ledger, now: Ledger, placed: frozenset[int]) -> None:
    """Say irregularities again that stand otherwise than they were said; the rest keep their number."""
    for item in now.items.values():
        was = before.find(item.id)
        if was is None:
            item.numbers = [now.same.get(n, n) for n in item.numbers]
            continue
        item.numbers = list(was.numbers)
        if not _stands_alike(was, item):
            if item.open and not was.open and not was.withdrawn:
                now.correct(item.numbers.pop(), WHY, placed)
            now.rewrite(item)


def _stands_alike(one: Item, other: Item) -> bool:
    return one.open == other.open and one.explained == other.explained and not differs(one.claim, other.claim)
