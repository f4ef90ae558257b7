"""Evidence that comes late is put in its place: in the end the register is the one of an evening in which nothing was late.

The captures are those of `tests/recordings`, their reports delivered one to three times and up to 5 s late; what is then
said is held against what was said of the capture as it stands.
"""

from __future__ import annotations

import itertools
import json
import pickle
import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bridge.core import steps
from bridge.core.events import Journalled
from bridge.core.outcomes import Outcome
from bridge.core.plan import Railway
from bridge.core.retold import hindsight, past
from bridge.folder import load
from bridge.journal import gaps
from bridge.service.folding import Evening
from bridge.service.replaying import replay
from bridge.virtual.recording import Recording
from bridge.virtual.staging import stage
from bridge.wire.capture import CaptureFault, read_capture
from bridge.wire.lines import Report
from bridge.wire.records import Received, Record, Said

from ...recordings.said import STRICT, folder_of, railway_of, records_of

RECORDINGS = Path(__file__).parents[2] / "recordings"
DEMO = Path(__file__).parents[3] / "demo" / "railway"
LOSSES = ("reports-lost",)  # what is sent again after more than 5 s was lost by then, and that is said
VOLATILE = {"sure", "late", "text", "do", "because", "explained", "id", "cause"}

Register = tuple[Counter[str], dict[str, tuple[object, ...]]]


@cache
def capture(name: str) -> tuple[Railway, list[Record]]:
    text = (RECORDINGS / f"{name}.capture").read_text(encoding="utf-8")
    return railway_of(folder_of(text)), records_of(text)


def register(said: Sequence[Outcome]) -> Register:
    """What stands in the end, however and whenever it was said: the statements, each irregularity as it stood last, and
    where every vehicle is."""
    wrong = {outcome.keys["of"] for outcome in said if outcome.says == "corrected"}
    rows: Counter[str] = Counter()
    last = {outcome.keys["id"]: outcome.n for outcome in said if outcome.says == "irregularity" and outcome.n not in wrong}
    for outcome in said:
        if outcome.says == "irregularity" and last.get(outcome.keys["id"]) != outcome.n:
            continue
        passing = outcome.says in ("observed", "corrected", "whereabouts", "session", "may-go")
        if outcome.n not in wrong and not passing and outcome.keys.get("kind") not in LOSSES:
            keys = {name: value for name, value in outcome.keys.items() if name not in VOLATILE}
            rows[json.dumps([outcome.says, keys], sort_keys=True)] += 1
    places = {
        outcome.keys["vehicle"]: (outcome.keys["place"], outcome.keys["order"], outcome.keys["train"])
        for outcome in said
        if outcome.says == "whereabouts" and outcome.t == said[-1].t
    }
    return rows, places


def in_order(rows: list[tuple[float, int, Record]]) -> list[Record]:
    return [record for _, _, record in sorted(rows, key=lambda row: row[:2])]


def delivered(records: Sequence[Record], chance: random.Random, lost: frozenset[int] = frozenset()) -> list[Record]:
    """Each report one to three times, four of ten deliveries up to 5 s late; `lost`: indices of reports never delivered."""
    rows: list[tuple[float, int, Record]] = []
    for at, record in enumerate(records):
        if at in lost:
            continue
        times = [record.t]
        if isinstance(record, Received) and isinstance(record.line, Report):
            count = chance.choice([1, 1, 2, 3])
            times = [record.t + (chance.uniform(0, 5) if chance.random() < 0.4 else 0.0) for _ in range(count)]
        rows += [(t, at, replace(record, t=round(t, 6))) for t in times]
    return in_order(rows)


def delayed(records: Sequence[Record], index: int, by_s: float) -> list[Record]:
    late = records[index]
    rows: list[tuple[float, int, Record]] = [(record.t, at, record) for at, record in enumerate(records) if at != index]
    return in_order([*rows, (late.t + by_s, index, replace(late, t=round(late.t + by_s, 6)))])


NAMES = sorted(path.stem for path in RECORDINGS.glob("*.capture"))


@settings(max_examples=60, deadline=None)
@given(name=st.sampled_from(NAMES), seed=st.integers(0, 10_000))
@example(name="told-departure", seed=87)
def test_repeated_and_shuffled_within_5_s_the_register_is_the_same(name: str, seed: int) -> None:
    railway, records = capture(name)
    straight = register(list(replay(railway, records, STRICT)))
    mixed = register(list(replay(railway, delivered(records, random.Random(seed)), STRICT)))
    assert mixed[0] - straight[0] == Counter()
    assert straight[0] - mixed[0] == Counter()
    assert mixed[1] == straight[1]


def test_half_an_evening_shuffled_ends_in_the_same_register() -> None:
    railway = load(DEMO).railway
    assert railway is not None
    read = list(read_capture(Recording(stage(railway).evening(6, ())).run().splitlines()))
    records = [row for row in read if not isinstance(row, CaptureFault)][: len(read) // 2]
    mixed = delivered(records, random.Random(60))
    assert register(list(replay(railway, mixed, STRICT))) == register(list(replay(railway, records, STRICT)))


@settings(max_examples=60, deadline=None)
@given(name=st.sampled_from(NAMES), seed=st.integers(0, 10_000), share=st.sampled_from([0.02, 0.1, 0.3]))
def test_each_loss_is_exactly_one_gap(name: str, seed: int, share: float) -> None:
    """However the rest is repeated and shuffled: the numbers that never came, each once, and no other."""
    _, records = capture(name)
    chance = random.Random(seed)
    reports = [at for at, record in enumerate(records) if isinstance(record, Received) and isinstance(record.line, Report)]
    lost = frozenset(at for at in reports if chance.random() < share)
    found = [
        (gap.board, gap.boot, number)
        for gap in gaps([Journalled(n, record) for n, record in enumerate(delivered(records, chance, lost), 1)])
        for number in range(gap.first, gap.last + 1)
    ]
    straight = [
        (gap.board, gap.boot, number)
        for gap in gaps([Journalled(n, record) for n, record in enumerate(records, 1)])
        for number in range(gap.first, gap.last + 1)
    ]
    proved = numbers_proved(records, lost)
    assert Counter(found) == Counter({*straight, *proved})


def numbers_proved(records: Sequence[Record], lost: frozenset[int]) -> set[tuple[str, int, int]]:
    """The lost numbers that a later line of their boot proves to have been used, and an earlier one to have counted."""
    highest: dict[tuple[str, int], int] = {}
    lowest: dict[tuple[str, int], int] = {}
    sent = {(r.line.board, r.line.boot, r.line.seq) for at, r in enumerate(records) if at not in lost and _counts(r)}  # type: ignore[union-attr]
    for at, record in enumerate(records):
        if at not in lost and isinstance(record, Received) and hasattr(record.line, "seq"):
            boot = (record.line.board, record.line.boot)
            highest[boot] = max(highest.get(boot, 0), record.line.seq)
            lowest.setdefault(boot, record.line.seq)
    found = set()
    for at in lost:
        line = records[at].line  # type: ignore[union-attr]
        boot = (line.board, line.boot)
        if lowest.get(boot, 1 << 33) < line.seq <= highest.get(boot, 0):
            found.add((line.board, line.boot, line.seq))
    return found - sent


def _counts(record: Record) -> bool:
    return isinstance(record, Received) and isinstance(record.line, Report)


LATE = 185  # in goods-whole-run: the reader at the mouth of the platform on which p1 comes in


def test_what_was_raised_for_want_of_it_is_corrected_and_named_with_its_evidence() -> None:
    railway, records = capture("goods-whole-run")
    said = list(replay(railway, delayed(records, LATE, 4.5), STRICT))
    raised = [o for o in said if o.says == "irregularity" and o.keys["kind"] == "wrong-road"]
    assert [o.keys["status"] for o in raised] == ["open"]
    corrected = {o.keys["of"]: o for o in said if o.says == "corrected"}
    arrived = [o for o in said if o.says == "arrived" and o.keys["train"] == "p1"]
    wrong, right = arrived[:2]
    assert {raised[0].n, wrong.n} <= corrected.keys()
    late_n = next(
        n for n, r in enumerate(delayed(records, LATE, 4.5), 1) if r is not None and r.t == round(records[LATE].t + 4.5, 6)
    )
    assert all(late_n in corrected[n].evidence and corrected[n].keys["why"] for n in (raised[0].n, wrong.n))
    assert right.keys["road"] == right.keys["booked_road"]
    assert right.happened == pytest.approx(records[LATE].t, abs=0.2)
    assert max(raised[0].n, wrong.n) < corrected[wrong.n].n < right.n
    assert corrected[wrong.n].t - records[LATE].t < 4.5 + past.LONGEST_S


def test_what_an_operator_told_afterwards_stands() -> None:
    railway, records = capture("goods-whole-run")
    vehicle = "w8"  # nothing reads it in this capture
    late = delayed(records, LATE, 4.5)
    at = next(i for i, record in enumerate(late) if record.t > records[LATE].t + 2)
    told = Said(late[at].t, None, f"stands {vehicle} off")
    said = list(replay(railway, [*late[:at], told, *late[at:]], STRICT))
    places = register(said)[1]
    assert places[vehicle][0] == "off"
    assert len(places) == len(railway.stock)


def test_a_state_put_away_while_something_waits_to_be_placed_goes_on_the_same() -> None:
    railway, records = capture("goods-whole-run")
    rows = delayed(records, LATE, 4.5)
    straight, broken = Evening(STRICT, railway), Evening(STRICT, railway)
    has_waited = False
    for record in rows:
        has_waited = has_waited or bool(broken._state.past.waiting)
        if broken._state.past.waiting:
            broken._state = pickle.loads(pickle.dumps(broken._state))
        assert list(broken.follow(record)) == list(straight.follow(record))
    assert has_waited
    assert list(broken.close()) == list(straight.close())


def test_where_the_past_cannot_be_told_again_that_is_said_and_the_rest_goes_on(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise ArithmeticError("spoilt")

    railway, records = capture("goods-whole-run")
    monkeypatch.setattr(steps, "place", fail)
    said = list(replay(railway, delayed(records, LATE, 4.5)))
    failed = [o for o in said if o.says == "irregularity" and o.keys["kind"] == "rule-failed"]
    assert [(o.keys["rule"], o.keys["status"]) for o in failed] == [(hindsight.RULE, "open")]
    assert said[-1].says == "session"
    with pytest.raises(Exception, match="spoilt"):
        list(replay(railway, delayed(records, LATE, 4.5), STRICT))


def test_what_is_kept_of_the_past_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(past, "LEAST_BETWEEN", -10_000)
    monkeypatch.setattr(past, "WINDOW_S", 20.0)
    railway, records = capture("goods-whole-run")
    evening = Evening(STRICT, railway)
    most = 0
    for record in records:
        list(evening.follow(record))
        kept = evening._state.past
        most = max(most, len(kept.events))
        assert kept.events_from == kept.kept[0].index
        assert len(kept.kept) < 2 or kept.kept[1].t > record.t - 20.0 - 30.0
    assert kept.events_from > 100
    assert most < len(records) / 2


def test_the_last_moments_are_told_again_from_near_and_what_lies_before_from_not_much_further(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(past, "LEAST_BETWEEN", 0)
    railway, records = capture("goods-whole-run")
    evening = Evening(STRICT, railway)
    for record in records:
        list(evening.follow(record))
        kept = [row.index for row in evening._state.past.kept]
        apart = past.between(evening._state) if kept else 0
        gaps = [after - before for before, after in itertools.pairwise(kept)]
        assert not kept or evening._state.past.events_from + len(evening._state.past.events) - kept[-1] < 2 * apart
        assert all(gap < 2 * apart for gap in gaps[1 - past.NEWEST :])
        assert all(gap < (past.NEWEST + 1) * apart for gap in gaps)
        assert all(one + other > past.NEWEST * apart for one, other in itertools.pairwise(gaps[: 1 - past.NEWEST]))
    assert len(gaps) >= past.NEWEST and gaps[0] > apart


def test_what_happened_before_all_that_is_kept_fills_its_gap_and_tells_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(past, "LEAST_BETWEEN", -10_000)
    monkeypatch.setattr(past, "WINDOW_S", 5.0)
    railway, records = capture("goods-whole-run")
    without = [record for at, record in enumerate(records) if at != LATE]
    until = next(i for i, record in enumerate(without) if record.t > records[LATE].t + 60)
    late = replace(records[LATE], t=without[until - 1].t)
    said = list(replay(railway, [*without[:until], late, *without[until:]], STRICT))
    assert register(said) == register(list(replay(railway, without, STRICT)))
