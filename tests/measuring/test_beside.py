"""What runs beside a core changes nothing that the core says, and hears all that the core's own engine hears."""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.plan import Railway
from bridge.virtual.recording import Recording
from bridge.virtual.staging import Stage
from bridge.wire.records import Record

from .beside import Shadowed, Weighing
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
    weighing = Weighing(shadowed)
    assert len(weighing.reads) == len(shadowed.reads) > 100
    held = weighing.beliefs()
    assert held.keys() == evening.railway.stock.keys()
    assert all(0.0 < each.sure <= 1.0 for each in held.values())
    assert held.keys() == shadowed.beliefs().keys()


def test_late_evidence_takes_both_back_to_the_same_moment() -> None:
    """A board that was cut off sends what it has kept, and the core goes back over its past."""
    railway = railway_of(DEMONSTRATION, 503)
    recording = Recording(Stage(railway).evening(503, ["link-drops"]))
    recording.run()
    _, shadowed = both(railway, recording.records)
    standing = {row.vehicle: row.place for row in railway.standing}
    assert any(held.place != standing.get(vehicle) for vehicle, held in Weighing(shadowed).beliefs().items())


def test_before_the_first_record_nothing_is_believed() -> None:
    assert Weighing(Shadowed(railway_of(DEMONSTRATION, 503))).beliefs() == {}
