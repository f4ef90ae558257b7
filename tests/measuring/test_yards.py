"""The benchmark's railways are what they are said to be, and a wiring puts what it says and changes nothing else."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import pytest

from bridge.core.plan import Railway
from bridge.core.plant import DetectorKind, RoadKind, SectionRule

from .nights import Night, recorded
from .yards import LAYOUTS, dead_readers, grown, wired

SEEDS = (601, 602, 603, 604, 605, 606)
seeds = pytest.mark.parametrize("seed", SEEDS)


def put(railway: Railway, kind: DetectorKind) -> list[str]:
    """Where the detectors of a kind are: boundaries, throats or stretches."""
    return [d.at or d.covers or "" for d in railway.plant.detectors.values() if d.kind is kind]


@seeds
def test_five_stations_of_four_roads_and_forty_wagons(seed: int) -> None:
    railway = grown(seed)
    plant = railway.plant
    for station in plant.stations.values():
        kinds = Counter(plant.roads[road].kind for road in station.roads)
        assert kinds == {RoadKind.RUNNING: 1, RoadKind.LOOP: 1, RoadKind.SIDING: 2}
    assert (len(plant.stations), len(plant.sections)) == (5, 4)
    assert {section.rule for section in plant.sections.values()} == {SectionRule.ONE_TRAIN}
    kinds = Counter(vehicle.kind for vehicle in railway.stock.values())
    assert (kinds["wagon"], kinds["engine"]) == (40, 2)
    assert {working.kind for working in railway.workings.values()} == {"goods", "passenger"}


def test_the_goods_sets_out_lifts_and_runs_round_along_the_line() -> None:
    """By the truth of three evenings. What is coupled behind its engine, from the engine on, comes to be the other way
    about where it has run round."""
    lifted, set_out, round_ = 0, 0, 0
    for seed in SEEDS[:3]:
        truth = recorded(Night(), seed).truth
        lifted += len({event["road"].partition(".")[0] for event in truth["events"] if event["says"] == "lifted"})
        set_out += len({event["road"].partition(".")[0] for event in truth["events"] if event["says"] == "set-out"})
        rakes = [[v for v in ids if v != engine] for _, engine, _, ids in truth["trains"] if engine == "e1"]
        rakes = [rake for rake in rakes if len(rake) > 1]
        round_ += sum(one != other and one == other[::-1] for one, other in pairwise(rakes))
    assert lifted >= 3 * 3
    assert set_out >= 3 * 3
    assert round_ >= 3


@seeds
def test_readers_are_where_each_layout_has_them(seed: int) -> None:
    plant = grown(seed).plant
    limits = {b.id for b in plant.boundaries.values() if b.outer in plant.sections}
    mouths = {b.id for b in plant.boundaries.values() if b.outer in plant.roads}
    of_sidings = {b for b in mouths if plant.roads[plant.boundaries[b].outer].kind is RoadKind.SIDING}
    assert (len(limits), len(mouths), len(of_sidings)) == (8, 30, 10)
    wanted = {"mouths": limits | mouths, "limits": limits}
    for layout in LAYOUTS:
        readers = put(wired(grown(seed), layout, "all", untagged=False, seed=seed), DetectorKind.READER)
        assert sorted(readers) == sorted(wanted.get(layout, limits | of_sidings)), layout


def test_contacts_tell_of_all_roads_of_a_throat_but_one() -> None:
    railway = wired(grown(601), "points", "all", untagged=False, seed=601)
    for throat in railway.plant.throats.values():
        roads = {r.id for r in railway.plant.roads.values() if r.station == throat.station and throat.end in r.open}
        contacts = [d for d in railway.plant.detectors.values() if d.kind is DetectorKind.POINTS and d.at == throat.id]
        assert len(contacts) == len(roads) - 1
        assert all({*contact.on, *contact.off} == roads for contact in contacts)


def test_track_detectors_feel_all_vehicles_engines_or_are_not_there() -> None:
    railways = {
        tracks: wired(grown(601), "mouths", tracks, untagged=False, seed=601) for tracks in ("all", "engines", "none")
    }
    for tracks, railway in railways.items():
        stretches = sorted(railway.plant.at_stretch) if tracks != "none" else []
        assert sorted(put(railway, DetectorKind.TRACK)) == stretches
    assert all(vehicle.detected for vehicle in railways["all"].stock.values())
    assert {v.kind for v in railways["engines"].stock.values() if v.detected} == {"engine"}


def test_every_vehicle_has_one_tag_or_four_wagons_have_none() -> None:
    every, tenth = (wired(grown(601), "mouths", "all", untagged=untagged, seed=601) for untagged in (False, True))
    assert {len(vehicle.tags) for vehicle in every.stock.values()} == {1}
    assert [v.kind for v in tenth.stock.values() if not v.tags] == ["wagon"] * 4


def test_wiring_changes_neither_track_nor_plan() -> None:
    bare, railway = grown(601), wired(grown(601), "limits", "none", untagged=True, seed=601)
    assert (railway.standing, railway.workings, railway.moves) == (bare.standing, bare.workings, bare.moves)
    assert (railway.plant.roads, railway.plant.sections) == (bare.plant.roads, bare.plant.sections)


def test_a_fifth_of_the_readers_is_dead_by_the_seed() -> None:
    railway = wired(grown(601), "worn", "all", untagged=False, seed=601)
    dead = dead_readers(railway, 601)
    assert len(dead) == round(len(put(railway, DetectorKind.READER)) / 5) == 4
    assert dead == dead_readers(railway, 601) != dead_readers(railway, 602)
