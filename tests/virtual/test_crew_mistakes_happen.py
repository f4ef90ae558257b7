"""Mistakes that crews make on the demonstration railway: each really happens, and the truth says how it would show."""

from __future__ import annotations

import pytest

from .conftest import demonstration
from .mistaken import SEEDS, engine_of, made, vehicles_with, went_out


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
