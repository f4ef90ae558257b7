"""Mistakes that crews make on the demonstration railway: each really happens, and the truth says how it would show."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import pytest

from bridge.core.irregularities import KINDS
from bridge.service.replaying import replay
from bridge.virtual.crew.mistakes import MISTAKES, NEEDS
from bridge.virtual.recording import Recording
from bridge.virtual.staging import StagingError, stage
from bridge.virtual.verdict import Verdict, held_against
from bridge.virtual.world import NEAR_MM

from . import crewed
from .conftest import DEMO, demonstration
from .geometry import overlaps, pieces_now

SEEDS = (1, 2)
ELSEWHERE = ("wrong-token",)
"""What the demonstration railway gives no occasion for."""
TOLD = tuple(name for name in MISTAKES if name not in ELSEWHERE)


@dataclass(frozen=True)
class Evening:
    """What really happened, and the capture of it."""

    capture: str
    truth: Mapping[str, Any]
    recording: Recording

    @property
    def expected(self) -> Mapping[str, Any]:
        """The one row that the mistake has."""
        (row,) = self.truth["expected"]
        return dict(row)

    def subject(self, key: str) -> Any:
        return self.expected["subject"][key]

    def events(self, says: str, **keys: str) -> list[Mapping[str, Any]]:
        return [e for e in self.truth["events"] if e["says"] == says and all(e[key] == value for key, value in keys.items())]

    def stood(self, table: str, thing: str, t_s: float) -> list[Any]:
        """How something stood at an instant: the last row of a table at or before it, behind its name."""
        rows = [row[2:] for row in self.truth[table] if row[1] == thing and row[0] <= t_s + 1e-3]
        return list(rows[-1]) if rows else []


def by_crews(seed: int, *faults: str) -> Evening:
    evening = stage(demonstration(), DEMO, by_plan=True).evening(seed, faults)
    recording = Recording(evening)
    capture = recording.run()
    world = evening.scene.world
    assert overlaps(world, pieces_now(world, evening.timeline.now_s), NEAR_MM) == []
    return Evening(capture, json.loads(evening.truth_json()), recording)


@cache
def made(seed: int, mistake: str) -> Evening:
    return by_crews(seed, mistake)


def engine_of(train: str) -> str:
    return demonstration().workings[train].engine


def went_out(evening: Evening) -> float:
    """When the row's train was first in its section after the mistake."""
    t_s: float = evening.expected["evidence_t"]
    return t_s


def vehicles_with(evening: Evening, engine: str, t_s: float) -> Sequence[str]:
    train: Sequence[str] = evening.stood("trains", engine, t_s)[1]
    return train


# -- each really happens -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_a_forgotten_wagon_goes_on_with_the_train(seed: int) -> None:
    evening = made(seed, "forgotten-set-out")
    row = evening.expected
    assert row["kind"] == "set-out-forgotten"
    wagon, road = evening.subject("vehicle"), evening.subject("road")
    (booked,) = [move for move in evening.truth["moves"] if move["vehicle"] == wagon]
    assert (booked["to"], booked["done"]) == (road, False)
    assert wagon in vehicles_with(evening, engine_of(evening.subject("train")), went_out(evening))
    station = road.partition(".")[0]
    departed = evening.events("departed", train=evening.subject("train"), station=station)
    assert departed[-1]["t"] == pytest.approx(went_out(evening), abs=0.01)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wagon_not_lifted_stays_behind(seed: int) -> None:
    evening = made(seed, "missed-lift")
    assert evening.expected["kind"] == "lift-missed"
    wagon, road = evening.subject("vehicle"), evening.subject("road")
    assert wagon in evening.truth["roads"][road]
    assert evening.events("lifted", vehicle=wagon) == []
    station, train = road.partition(".")[0], evening.subject("train")
    assert evening.events("departed", train=train, station=station)[-1]["t"] == pytest.approx(went_out(evening), abs=0.01)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wagon_set_out_in_the_wrong_siding_stands_there(seed: int) -> None:
    evening = made(seed, "wrong-siding")
    assert evening.expected["kind"] == "wagon-misplaced"
    wagon, road = evening.subject("vehicle"), evening.subject("road")
    (booked,) = [move for move in evening.truth["moves"] if move["vehicle"] == wagon]
    assert evening.truth["vehicles"][wagon]["place"] == road != booked["to"]
    assert "by mistake" in booked["why"]
    (set_out,) = evening.events("set-out", vehicle=wagon)
    assert set_out["road"] == road
    assert set_out["t"] < went_out(evening)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wagon_for_which_there_is_no_room_hangs_out(seed: int) -> None:
    evening = made(seed, "overfull")
    assert evening.expected["kind"] == "overfull-road"
    railway, road = demonstration(), evening.subject("road")
    there = evening.truth["roads"][road]
    assert sum(railway.stock[vehicle].length_mm for vehicle in there) > railway.plant.roads[road].length_mm
    hanging = {place for vehicle in there for place in evening.truth["vehicles"][vehicle]["fouls"]}
    assert hanging
    assert hanging <= set(evening.subject("fouls"))
    assert evening.expected["evidence_t"] == round(max(row[0] for row in evening.truth["lines"] if row[1] == road), 3)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_wagon_left_foul_hangs_into_the_throat_when_the_next_train_comes(seed: int) -> None:
    evening = made(seed, "left-foul")
    assert evening.expected["kind"] == "road-blocked"
    train, road = evening.subject("train"), evening.subject("road")
    plant = demonstration().plant
    (throat,) = {plant.detectors[detector].covers for detector in evening.expected["by"]}
    assert throat is not None
    (left,) = [v for v, where in evening.truth["vehicles"].items() if throat in where["fouls"]]
    siding = evening.truth["vehicles"][left]["place"]
    assert road in plant.roads[siding].fouls
    (came,) = evening.events("arrived", train=train, road=road)
    assert went_out(evening) < came["t"]
    assert left in evening.stood("lines", throat, went_out(evening))[0]
    assert left in evening.stood("lines", throat, came["t"])[0]
    assert all(move["done"] for move in evening.truth["moves"])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_train_on_the_wrong_road_has_come_in_there(seed: int) -> None:
    evening = made(seed, "wrong-road")
    assert evening.expected["kind"] == "wrong-road"
    train, road = evening.subject("train"), evening.subject("road")
    booked = [call.road for call in demonstration().workings[train].calls]
    assert road not in booked
    (arrived,) = evening.events("arrived", train=train, road=road)
    assert arrived["t"] == pytest.approx(went_out(evening), abs=0.01)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_train_that_draws_out_too_soon_is_in_the_section_with_another(seed: int) -> None:
    evening = made(seed, "section-clash")
    assert evening.expected["kind"] == "section-clash"
    trains, loose = evening.stood("sections", evening.subject("section"), went_out(evening))
    assert set(trains) == set(evening.subject("trains"))
    assert loose == []
    second = evening.subject("train")
    assert second in trains
    before = evening.stood("sections", evening.subject("section"), went_out(evening) - 1.0)
    assert before[0] == [train for train in trains if train != second]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_train_that_is_early_is_out_more_than_a_minute_before_its_time(seed: int) -> None:
    evening = made(seed, "early-departure")
    assert evening.expected["kind"] == "early-departure"
    train = evening.subject("train")
    departed = next(e for e in evening.events("departed", train=train) if e["t"] >= went_out(evening) - 0.01)
    call = next(c for c in demonstration().workings[train].calls if c.station == departed["station"])
    shown_s = 19 * 3600 + (departed["t"] - evening.truth["begin_t"]) * demonstration().plant.clock
    assert call.depart_s is not None
    assert shown_s < call.depart_s - 60.0


@pytest.mark.parametrize("seed", SEEDS)
def test_a_train_that_divides_comes_in_short_and_fetches_what_it_has_lost(seed: int) -> None:
    evening = made(seed, "divided")
    assert evening.expected["kind"] == "train-divided"
    section, train = evening.subject("section"), evening.subject("train")
    _, loose = evening.stood("sections", section, went_out(evening))
    assert loose != []
    assert evening.events("arrived", train=train)
    assert evening.stood("sections", section, evening.truth["end_t"]) == [[], []]
    assert all(move["done"] for move in evening.truth["moves"])


@pytest.mark.parametrize("seed", SEEDS)
def test_a_train_runs_over_what_is_not_proved(seed: int) -> None:
    evening = made(seed, "bridge-open")
    assert evening.expected["kind"] == "not-proved"
    detector = demonstration().plant.detectors[evening.subject("detector")]
    said = f" {detector.input} off"
    reports = [line for line in evening.capture.splitlines() if f"report {detector.board} " in line and said in line]
    assert reports, "nothing was said of the proof"
    trains, _ = evening.stood("sections", evening.subject("section"), evening.expected["due_t"])
    assert trains == [evening.subject("train")]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_train_without_its_token_leaves_it_where_it_lies(seed: int) -> None:
    evening = made(seed, "no-token")
    assert evening.expected["kind"] == "no-authority"
    section, train = evening.subject("section"), evening.subject("train")
    assert evening.stood("sections", section, went_out(evening))[0] == [train]
    station = [e for e in evening.events("departed", train=train) if e["t"] <= went_out(evening) + 0.01][-1]["station"]
    assert evening.stood("tokens", section, went_out(evening)) == [station, None]


@pytest.mark.parametrize("seed", SEEDS)
def test_a_token_forgotten_on_the_engine_goes_on_with_it(seed: int) -> None:
    evening = made(seed, "token-kept")
    assert evening.truth["expected"] == []  # there is no word for it: no train is where it must not be
    kept = []
    for row, then in zip(evening.truth["tokens"], evening.truth["tokens"][1:], strict=False):
        gone = [e for e in evening.truth["events"] if e["says"] == "departed" and row[0] < e["t"] < then[0]]
        kept += [row for e in gone if row[3] is not None and engine_of(e["train"]) == row[3]][1:]
    assert kept, "with one token the engine departed twice"


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
    evening = stage(TWO_OF_A_TOKEN, DEMO, by_plan=True).evening(1, ["wrong-token"])
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
            stage(bare, DEMO, by_plan=True).evening(1, [name])
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


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("mistake", TOLD)
def test_each_shows_by_detectors_before_it_is_due(mistake: str, seed: int) -> None:
    evening = made(seed, mistake)
    for row in evening.truth["expected"]:
        assert evening.truth["begin_t"] < row["evidence_t"] <= row["due_t"] <= evening.truth["end_t"]
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
