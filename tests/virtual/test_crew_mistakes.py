"""Mistakes of crews are chosen by name and subject; each shows by detectors before it is due, and a seed is an evening."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any

import pytest

from bridge.core.irregularities import KINDS
from bridge.service.replaying import replay
from bridge.virtual.crew.mistakes import MISTAKES, NEEDS
from bridge.virtual.staging import StagingError, stage
from bridge.virtual.verdict import Verdict, held_against

from . import crewed
from .conftest import demonstration
from .mistaken import SEEDS, TOLD, Evening, by_crews, made

# -- on any railway ----------------------------------------------------------------------------------------------------

TWO_OF_A_TOKEN = crewed.railway(
    (
        crewed.station("ash", crewed.road("one", 1500), crewed.road("two", 1500), crewed.throat("down", length=400)),
        crewed.station("elm", crewed.road("one", 1500), crewed.road("two", 1500), crewed.throat("up", length=400)),
        crewed.section("ash.down", "elm.up", 3000, "token", token_tags=["0412345678"]),
        crewed.rest("ash-elm", "ash", 1),
        crewed.rest("ash-elm", "elm", 2),
        '[[detector]]\nid = "line"\nkind = "track"\ncovers = "ash-elm"\nboard = "one"\ninput = 3\n',
    ),
    {"ash.one": "w1 e1", "ash.two": "w2 e2"},
    (
        "g1,goods,e1,ash,one,,19:10,w1,",
        "g1,goods,e1,elm,one,19:20,,,",
        "g2,goods,e2,ash,two,,19:30,w2,",
        "g2,goods,e2,elm,two,19:40,,,",
    ),
)


def test_a_train_with_the_token_of_another_goes_first() -> None:
    evening = stage(TWO_OF_A_TOKEN).evening(1, ["wrong-token"])
    evening.run()
    truth = json.loads(evening.truth_json())
    (row,) = truth["expected"]
    assert (row["kind"], row["subject"]) == ("no-authority", {"section": "ash-elm", "train": "g2"})
    departed = [e["train"] for e in truth["events"] if e["says"] == "departed"]
    assert departed == ["g2", "g1"]
    token = [r[2:] for r in truth["tokens"] if r[1] == "ash-elm" and r[0] <= row["evidence_t"]][-1]
    assert token == [None, "e2"]
    assert row["by"] == ["line"]


def test_what_a_railway_gives_no_occasion_for_is_refused_with_the_reason() -> None:
    bare = crewed.railway(
        (
            crewed.station("ash", crewed.road("road", 1500)),
            crewed.station("elm", crewed.road("road", 1500)),
            crewed.section("ash.down", "elm.up"),
        ),
        {"ash.road": "e1"},
        ("g1,goods,e1,ash,road,,19:10,,", "g1,goods,e1,elm,road,19:20,,,"),
    )
    for name in MISTAKES:
        with pytest.raises(StagingError, match=name) as refused:
            stage(bare).evening(1, [name])
        assert NEEDS[name] in str(refused.value)
    with pytest.raises(StagingError, match="nowhere do two trains stand"):
        by_crews(1, "wrong-token")


def test_a_subject_can_be_named_and_one_that_cannot_be_is_refused() -> None:
    assert made(1, "missed-lift=w11").subject("vehicle") == "w11"
    assert made(1, "wrong-road=m1+lanternby").subject("road") == "lanternby.platform"
    with pytest.raises(StagingError, match="'w12'; the nearest is w21"):
        by_crews(1, "missed-lift=w12")
    with pytest.raises(StagingError, match="do not come together"):
        by_crews(1, "forgotten-set-out=w03+pettymarsh")
    with pytest.raises(StagingError, match="The nearest is missed-lift"):
        by_crews(1, "mised-lift")


def test_several_mistakes_of_one_crew_are_all_made() -> None:
    evening = by_crews(1, "missed-lift=w11", "forgotten-set-out=w03", "bridge-open=g1")
    assert [row["kind"] for row in evening.truth["expected"]] == ["lift-missed", "set-out-forgotten", "not-proved"]
    assert all(row["due_t"] is not None for row in evening.truth["expected"])


# -- how it shows ------------------------------------------------------------------------------------------------------


def came_in_t(evening: Evening, row: Mapping[str, Any]) -> float:
    """When the train that something left foul is in the way of came in: before that had stood there for a minute, so that it
    was never due."""
    assert row["kind"] == "road-blocked"
    engine = demonstration().workings[row["subject"]["train"]].engine
    way = ["in", row["subject"]["road"]]
    moved = [t for t, vehicle, *to in evening.truth["movement"] if vehicle == engine and to == way]
    came_t = min(t for t in moved if t > row["evidence_t"])
    assert came_t < row["evidence_t"] + 60.0
    return float(came_t)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("mistake", TOLD)
def test_each_shows_by_detectors_before_it_is_due(mistake: str, seed: int) -> None:
    evening = made(seed, mistake)
    for row in evening.truth["expected"]:
        due_t = row["due_t"] or came_in_t(evening, row)
        assert evening.truth["begin_t"] < row["evidence_t"] <= due_t <= evening.truth["end_t"]
        assert set(row["by"]) <= set(demonstration().plant.detectors)
        assert row["by"] != []
    assert not any("did not come about" in reason["text"] for reason in evening.truth["reasons"])
    assert evening.truth["mistakes"] == [mistake]


@pytest.mark.parametrize("mistake", TOLD)
def test_a_seed_is_an_evening(mistake: str) -> None:
    again = by_crews(SEEDS[0], mistake)
    assert (again.capture, again.truth) == (made(SEEDS[0], mistake).capture, made(SEEDS[0], mistake).truth)
    assert again.capture != made(SEEDS[1], mistake).capture


def verdict(evening: Evening) -> Verdict:
    rows = [json.loads(json.dumps(outcome.as_dict())) for outcome in replay(demonstration(), evening.recording.records)]
    return held_against(evening.truth, rows)


def test_what_is_said_of_them_in_time(figure: Callable[[str], None]) -> None:
    """For information: the same evenings held against what the bridge says; only kinds that it knows can be found."""
    found, known, besides = [], 0, []
    for mistake in TOLD:
        judged = verdict(made(SEEDS[0], mistake))
        rows = [row for row in judged.expected if row.kind in KINDS]
        known += len(rows)
        found += [row for row in rows if row.is_in_time]
        besides += [f"{mistake}: {row['kind']}" for row in judged.besides]
    assert known > 0
    said = f"{len(found)} of {known} of known kinds said in time"
    figure(f"mistakes of crews: {said}, besides: {', '.join(besides) or 'nothing'}")
