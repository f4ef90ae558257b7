"""What runs beside a core changes nothing that the core says, and hears all that the core's own engine hears."""

from __future__ import annotations

import inspect
import pickle
from collections.abc import Sequence
from typing import Any

from bridge.core.plan import Railway
from bridge.core.whereabouts import Inference
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage
from bridge.wire.records import Record

from .beside import Beside, Former, Shadowed
from .cells import DEMONSTRATION, railway_of
from .engine import Row, WholeCore
from .nights import Night, recorded


def run(core: WholeCore, records: Sequence[Record]) -> list[Row]:
    """All that a core says of these records."""
    return [row for record in records for row in core.take(record)] + list(core.close())


def both(railway: Railway, records: Sequence[Record]) -> tuple[WholeCore, Shadowed]:
    """A core by itself and one that has another engine beside its own have said the same."""
    alone, shadowed = WholeCore(railway), Shadowed(railway)
    assert run(alone, records) == run(shadowed, records)
    return alone, shadowed


def test_the_core_says_what_it_says_by_itself() -> None:
    evening = recorded(Night("sidings"), 603)
    alone, shadowed = both(evening.railway, evening.records)
    assert len(alone.micros) == len(shadowed.micros)
    assert min(shadowed.micros) > 0.0
    former = Former(shadowed)
    assert len(former.reads) == len(shadowed.reads) > 100
    assert shadowed.beliefs() == alone.beliefs()
    for held in (former.beliefs(), shadowed.beliefs()):
        assert held.keys() == evening.railway.stock.keys()
        assert all(0.0 < each.sure <= 1.0 for each in held.values())
    assert former.beliefs() != shadowed.beliefs(), "two engines that believe the same of everything, surely by one table"


def test_late_evidence_takes_both_back_to_the_same_moment() -> None:
    """A board that was cut off sends what it has kept, and the core goes back over its past."""
    railway = railway_of(DEMONSTRATION, 503)
    recording = Recording(Stage(railway).evening(503, ["link-drops"]))
    recording.run()
    _, shadowed = both(railway, recording.records)
    standing = {row.vehicle: row.place for row in railway.standing}
    assert any(held.place != standing.get(vehicle) for vehicle, held in Former(shadowed).beliefs().items())


def test_before_the_first_record_nothing_is_believed() -> None:
    shadowed = Shadowed(railway_of(DEMONSTRATION, 503))
    assert Former(shadowed).beliefs() == shadowed.beliefs() == {}


class Noting:
    """An engine that only notes what it is given, and believes nothing."""

    def __init__(self, due: float | None = None) -> None:
        self.given: list[tuple[Any, ...]] = []
        self._due = due

    def due(self) -> float | None:
        return self._due

    def __getattr__(self, name: str) -> Any:
        if name.startswith("_"):
            raise AttributeError(name)
        return lambda *given: self.given.append((name, *given))


class Quiet:
    """An observation of no tag."""

    tag = None


def test_the_former_engine_gets_all_that_changes_the_one_in_force_and_nothing_else() -> None:
    """By the protocol: what answers nothing, or with changes, is told; what answers otherwise is asked."""
    of_protocol = {name: each for name, each in vars(Inference).items() if inspect.isfunction(each) and name[0] != "_"}
    asked = {"due", "pass_deadline"}
    told = {name for name, each in of_protocol.items() if each.__annotations__["return"] in ("None", "list[Change]")} - asked
    assert {"take", "begin", "follow", "told_stands"} <= told
    for name in of_protocol.keys() - asked:
        in_force, former = Noting(), Noting()
        given = [object()] * (len(inspect.signature(of_protocol[name]).parameters) - 1)
        if name == "take":
            given[0] = Quiet()
        getattr(Beside(in_force, former), name)(*given)  # type: ignore[arg-type]
        assert in_force.given == [(name, *given)]
        assert former.given == (in_force.given if name in told else []), name


def test_each_is_woken_at_its_own_deadlines_alone() -> None:
    in_force, former = Noting(4.0), Noting(2.0)
    both = Beside(in_force, former)  # type: ignore[arg-type]
    assert both.due() == 2.0
    both.pass_deadline(2.0, None)  # type: ignore[arg-type]
    assert (in_force.given, former.given) == ([], [("pass_deadline", 2.0, None)])
    both.pass_deadline(4.0, None)  # type: ignore[arg-type]
    assert in_force.given == [("pass_deadline", 4.0, None)]
    assert Beside(Noting(), Noting(3.0)).due() == 3.0  # type: ignore[arg-type]
    assert Beside(Noting(), Noting()).due() is None  # type: ignore[arg-type]


def test_a_state_that_is_kept_keeps_both() -> None:
    kept = pickle.loads(pickle.dumps(Beside(Noting(4.0), Noting(2.0))))  # type: ignore[arg-type]
    assert (kept.in_force.due(), kept.former.due()) == (4.0, 2.0)
