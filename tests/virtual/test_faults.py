"""Faults are chosen by name and by the seed; hands move what they say; all of them make one evening, and the same again."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from bridge.core.plan import Railway
from bridge.virtual.faults import FAULTS, FaultError, chosen_faults
from bridge.virtual.staging import Stage, StagingError
from bridge.virtual.world import NEAR_MM

from .conftest import demonstration
from .geometry import overlaps, pieces_now
from .night import held, night, tag_of

# -- choosing ----------------------------------------------------------------------------------------------------------


def test_every_fault_can_be_chosen_and_says_what_it_does(demo: Stage) -> None:
    assert set(FAULTS) <= set(demo.choices())
    assert all(len(sentence) > 30 for sentence in FAULTS.values())


def test_the_seed_chooses_a_subject_and_the_same_one_again() -> None:
    railway = demonstration()
    for name in FAULTS:
        found = [chosen_faults([name], railway, seed)[0].subjects for seed in range(30)]
        assert found == [chosen_faults([name], railway, seed)[0].subjects for seed in range(30)]
        assert len(set(found)) > 1 or name in ("link-drops", "power-trip"), name  # one board on a broker, one power input


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("weak-tag=W05", "weak-tag cannot strike 'W05'; the nearest that it can is w05."),
        ("dead-reader=saltgander-line", "the nearest that it can is saltgander-end-reader."),
        ("moved-by-hand=e1", "moved-by-hand cannot strike 'e1'"),
        ("link-drops=lanternby", "link-drops cannot strike 'lanternby'; none on this railway can be."),
        ("weak-tagg", "There is no mistake 'weak-tagg'. The nearest is weak-tag."),
    ],
)
def test_what_cannot_be_is_refused_by_name(demo: Stage, word: str, says: str) -> None:
    with pytest.raises(StagingError) as error:
        demo.evening(1, [word])
    assert says in str(error.value)


def test_a_railway_without_what_a_fault_needs_says_so(line: Any) -> None:
    bare = line("", ["e1,engine,150,04AA000001,"], ["e1,ash.road,1"])
    with pytest.raises(FaultError, match="link-drops: this railway has nothing that it could strike"):
        chosen_faults(["link-drops"], bare, 1)


# -- hands -------------------------------------------------------------------------------------------------------------


def lonely() -> Railway:
    """The demonstration with w08 alone in the dairy siding, whose detector so tells when it is taken away."""
    railway = demonstration()
    return replace(railway, standing=tuple(row for row in railway.standing if row.vehicle != "w07"))


@pytest.mark.parametrize("name", ["misplaced", "moved-by-hand"])
def test_a_wagon_elsewhere_is_told_by_no_detector_but_the_clear_road(name: str) -> None:
    one = held(lonely(), f"{name}=w08+pettymarsh.mill", seed=1)  # taken before others are set out in the dairy
    assert one.truth["vehicles"]["w08"]["place"] == "pettymarsh.mill"
    assert one.truth["roads"]["pettymarsh.mill"][0] == "w08"  # at the buffer stop, behind the others
    assert one.fault["by"] == ["pettymarsh-dairy"]
    assert tag_of("w08") not in {tag for _, tag in one.tags()}
    assert overlaps(one.world, pieces_now(one.world, one.truth["end_t"]), NEAR_MM) == []
    told = [t for t, line in one.reports("pettymarsh-dairy") if abs(t - (one.fault["t"] or 0)) < 0.05]
    rows = [row for row in one.truth["movement"] if row[1] == "w08"]
    if name == "misplaced":
        assert (one.fault["t"], told, rows) == (0.0, [], [])
    else:
        assert len(told) == 1
        assert [row[2:] for row in rows] == [["out", "pettymarsh.dairy"], ["in", "pettymarsh.mill"]]
        lines = {stretch: line for t, stretch, line in one.truth["lines"] if t <= one.fault["t"] + 0.001}
        assert (lines["pettymarsh.dairy"], lines["pettymarsh.mill"][0]) == ([], "w08")


def test_a_wagon_taken_from_among_others_shows_nowhere() -> None:
    one = night("moved-by-hand=w26")
    assert one.fault["shows_t"] is None
    assert one.fault["t"] > one.truth["begin_t"]
    assert one.truth["vehicles"]["w26"]["place"] == one.fault["subject"].partition("+")[2]
    assert one.tags() == night().tags()


# -- all of them -------------------------------------------------------------------------------------------------------


def test_all_faults_in_one_evening_are_the_same_evening_again() -> None:
    words = [name for name in FAULTS if name not in ("misplaced", "moved-by-hand")]
    words += ["misplaced=w26", "moved-by-hand=w08", "dirty"]
    one, other = held(demonstration(), *words), held(demonstration(), *words)
    assert one.text == other.text
    assert one.truth == other.truth
    assert len(one.truth["faults"]) == len(FAULTS)
    assert all(row["t"] is not None for row in one.truth["faults"])
