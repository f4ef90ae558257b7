"""Whatever sketch is taken becomes a folder without a fault, names as written; what cannot be is told at its field."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from typing import Any

import pytest
from hypothesis import event, given, settings

from bridge.folder import read
from bridge.folder.making import Sketch, made
from bridge.folder.making.ids import Ids

from .sketches import BAD_NAMES, HARD_NAMES, changed, fields, road, sketches, small


def sketched(body: dict[str, Any]) -> Any:
    return made(Sketch.model_validate(body))


def taken(body: dict[str, Any]) -> Any:
    """What the reader of folders makes of the texts."""
    found = sketched(body)
    assert found.wrongs == ()
    return read({name: text.encode() for name, text in found.texts.items()})


def test_a_small_railway_is_made_with_lengths_in_millimetres_and_ids_from_names() -> None:
    railway = taken(small()).railway
    plant = railway.plant
    assert (plant.id, plant.name, plant.scale, plant.clock) == ("alder-vale", "Alder Vale", 87.0, 4.0)
    assert [(s.id, s.name) for s in plant.stations.values()] == [("alder", "Alder"), ("birch-halt", "Birch Halt")]
    assert {r.id: (r.length_mm, r.open) for r in plant.roads.values()} == {
        "alder.platform": (1400.0, ("up", "down")),
        "alder.dock": (520.0, ("down",)),
        "birch-halt.main": (1200.0, ("up", "down")),
    }
    (section,) = plant.sections.values()
    assert (section.id, section.from_throat, section.to_throat) == ("alder-birch-halt", "alder.down", "birch-halt.up")
    assert {v.id: (v.painted, v.length_mm, v.tags) for v in railway.stock.values()} == {
        "7": ("7", 145.0, ("04A1003B68",)),
        "w-331": ("W 331", 104.0, ()),
    }
    assert {s.vehicle: s.place for s in railway.standing} == {"7": "alder.platform", "w-331": "alder.dock"}
    assert [(d.at, d.board, d.input) for d in plant.detectors.values()] == [
        ("alder-birch-halt@alder", "alder", 1),
        ("alder-birch-halt@birch-halt", "birch-halt", 1),
    ]


def branched(start: str) -> dict[str, Any]:
    """Three stations, the last at a branch."""
    body = small()
    body["stations"].append({"name": "Cherry Pit", "roads": [{**body["stations"][1]["roads"][0], "name": "Pit"}]})
    body["sections"].append({"length": "900", "rule": "one-train", "start": start, "goods": "7", "passenger": ""})
    return body


@pytest.mark.parametrize(("start", "throat"), [("0.up", "alder.up"), ("0.down", "alder.down"), ("", "birch-halt.down")])
def test_a_branch_leaves_where_it_is_said_to_and_minutes_are_kept(start: str, throat: str) -> None:
    sections = list(taken(branched(start)).railway.plant.sections.values())
    assert (sections[1].from_throat, sections[1].to_throat) == (throat, "cherry-pit.up")
    assert [dict(section.minutes) for section in sections] == [{}, {"goods": 7.0}]


def test_nothing_wired_is_a_folder_without_boards() -> None:
    plant = taken(small(readers="none")).railway.plant
    assert (dict(plant.boards), dict(plant.detectors)) == ({}, {})


def test_everything_wired_has_a_reader_at_each_mouth_and_a_track_detector_on_each_road() -> None:
    body = {**changed("sections.0.rule", "track-circuit"), "readers": "road-mouths", "track": True, "link": "mqtt"}
    found = taken({**body, "broker": "layout.local"})
    plant = found.railway.plant
    assert (found.broker.host, {board.link for board in plant.boards.values()}) == ("layout.local", {"mqtt"})
    at = {d.at for d in plant.detectors.values() if d.at}
    assert at == set(plant.boundaries)
    assert {d.covers for d in plant.detectors.values() if d.covers} == {*plant.roads, *plant.sections}
    inputs = [(d.board, d.input) for d in plant.detectors.values()]
    assert len(inputs) == len(set(inputs))


@settings(max_examples=100, deadline=None)
@given(sketches())
def test_any_sketch_that_is_taken_gives_a_folder_without_fault_and_keeps_its_names(body: dict[str, Any]) -> None:
    found = sketched(body)
    event("made" if not found.wrongs else "not made")
    if found.wrongs:
        assert found.texts == {}
        assert all(wrong.field and wrong.message and wrong.remedy for wrong in found.wrongs), found.wrongs
        return
    assert list(found.texts) == ["railway.toml", "stock.csv", "whereabouts.csv", "timetable.csv", "moves.csv"]
    railway = read({name: text.encode() for name, text in found.texts.items()}).railway
    assert railway is not None
    assert railway.plant.name == body["name"].strip()
    assert [s.name for s in railway.plant.stations.values()] == [s["name"].strip() for s in body["stations"]]
    assert [v.painted for v in railway.stock.values()] == [v["painted"].strip() for v in body["vehicles"]]
    ids = [railway.plant.id, *railway.plant.stations, *railway.plant.boards, *railway.stock, *railway.plant.detectors]
    assert all(re.fullmatch(r"[a-z0-9-]+", id_) for id_ in ids), ids
    whole = tomllib.loads(found.texts["railway.toml"])  # the standard library's reader of TOML 1.0
    assert [s["name"] for s in whole["station"]] == [s["name"].strip() for s in body["stations"]]
    rows = list(csv.DictReader(io.StringIO(found.texts["stock.csv"], newline="")))  # the standard library's, of CSV
    assert [row["painted"] for row in rows] == [v["painted"].strip() for v in body["vehicles"]]


@pytest.mark.parametrize("name", HARD_NAMES)
def test_a_hard_name_is_kept_wherever_it_stands(name: str) -> None:
    body = {**small(), "name": name}
    body["stations"][0]["name"] = body["stations"][0]["roads"][0]["name"] = body["vehicles"][1]["painted"] = name
    found = sketched(body)
    railway = read({file: text.encode() for file, text in found.texts.items()}).railway
    assert railway is not None, found.wrongs
    assert railway.plant.name == next(iter(railway.plant.stations.values())).name == name.strip()
    assert [v.painted for v in railway.stock.values()] == ["7", name.strip()]
    assert len(railway.plant.roads) == 3


@pytest.mark.parametrize("name", BAD_NAMES)
@pytest.mark.parametrize("where", ["name", "stations.0.name", "stations.0.roads.1.name", "vehicles.0.painted"])
def test_a_name_that_cannot_be_kept_is_told_at_its_field(where: str, name: str) -> None:
    found = sketched(changed(where, name))
    assert (list(fields(found.wrongs)), found.texts) == ([where], {})


@pytest.mark.parametrize(
    ("where", "value", "field", "words"),
    [
        ("stations", [], "stations", "no station"),
        ("stations.1.name", "ALDER ", "stations.1.name", "two stations called “ALDER”"),
        ("stations.0.roads", [], "stations.0.roads", "Alder has no road"),
        ("stations.0.roads.1.name", "platform", "stations.0.roads.1.name", "two roads of Alder"),
        ("stations.0.roads.1.kind", "garden", "stations.0.roads.1.kind", "running, loop, siding, headshunt"),
        ("stations.0.roads.0.length", "0", "stations.0.roads.0.length", "cannot be 0 mm long"),
        ("stations.0.roads.0.length", "", "stations.0.roads.0.length", "is missing"),
        ("stations.0.roads.0.length", "1.400", "stations.0.roads.0.length", "“1.400” is no length"),
        ("stations.0.roads.0.length", "12 parsec", "stations.0.roads.0.length", "is no length"),
        ("stations.0.roads.1.open", [], "stations.0.roads.1.open", "open at no end"),
        ("stations.1.roads.0.open", ["down"], "stations.1.roads.0.open", "its up end, where the line comes in from Alder"),
        ("sections", [], "sections", "Between 2 stations are 1 sections; here are 0"),
        ("sections.0.length", "-5", "sections.0.length", "“-5” is no length"),
        ("sections.0.rule", "hope", "sections.0.rule", "one-train"),
        ("sections.0.rule", "track-circuit", "track", "needs track detectors"),
        ("sections.0.goods", "soon", "sections.0.goods", "“soon” cannot be the minutes of a goods train"),
        ("sections.0.start", "1.down", "sections.0.start", "comes from no station further up"),
        ("sections.0.start", "0.side", "sections.0.start", "comes from no station further up"),
        ("scale", "0", "scale", "the scale"),
        ("scale", "H", "scale", "“H” cannot be the scale"),
        ("sections.0.length", "", "sections.0.length", "the line between Alder and Birch Halt"),
        ("clock", "", "clock", "is missing"),
        ("clock", "61", "clock", "at most 60"),
        ("vehicles.0.kind", "rocket", "vehicles.0.kind", "engine, wagon, brake, coach"),
        ("vehicles.0.length", "no", "vehicles.0.length", "is no length"),
        ("vehicles.1.length", "521", "vehicles.1.at", "521 mm long; Dock of Alder has 520 mm"),
        ("vehicles.1.tags", "04a1003b68", "vehicles.1.tags", "belongs to 7 already"),
        ("vehicles.1.tags", "04A", "vehicles.1.tags", "is no tag"),
        ("vehicles.1.at", [0, 2], "vehicles.1.at", "not there any more"),
        ("vehicles.1.at", [7, 0], "vehicles.1.at", "not there any more"),
        ("readers", "everywhere", "readers", "road-mouths"),
        ("link", "string", "link", "serial, mqtt"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_told_at_its_field(where: str, value: Any, field: str, words: str) -> None:
    found = sketched(changed(where, value))
    told = fields(found.wrongs)
    assert field in told, told
    assert words in told[field]
    assert found.texts == {}


def test_what_stands_on_a_road_together_is_told_once_it_no_longer_fits() -> None:
    wagon = {"painted": "9", "kind": "wagon", "length": "261", "tags": "", "at": [0, 1]}
    told = fields(sketched(small(vehicles=[{**wagon, "painted": str(n)} for n in range(4)])).wrongs)
    assert list(told) == ["vehicles.1.at"]
    assert "With 1, 522 mm stand there; Dock of Alder has 520 mm" in told["vehicles.1.at"]
    assert sketched(small(vehicles=[{**wagon, "length": "260", "painted": str(n)} for n in range(2)])).wrongs == ()


def test_a_broker_that_is_no_address_is_told() -> None:
    assert list(fields(sketched(small(link="mqtt", broker="over there!")).wrongs)) == ["broker"]


def test_tags_are_taken_as_people_copy_them() -> None:
    railway = taken(changed("vehicles.1.tags", "04:a1:00:3b:69, 04-A1-00-3B-70")).railway
    assert railway.stock["w-331"].tags == ("04A1003B69", "04A1003B70")


@pytest.mark.parametrize("typed", ["1:76.2", "76,2", " 1 : 76.2 "])
def test_a_scale_is_taken_as_people_write_it(typed: str) -> None:
    assert taken(changed("scale", typed)).railway.plant.scale == 76.2


def test_ids_are_short_each_given_once_and_never_one_that_is_taken() -> None:
    ids = Ids("road", ("up", "down"))
    given = [
        ids.of(name) for name in ("Up", "Up!", "Ölbahn", "東", "京", "A very long name of a road", "A very long name of it")
    ]
    assert given == ["up-road", "up-road-2", "olbahn", "road-1", "road-2", "a-very-long-name", "a-very-long-na-2"]
    assert [Ids("section").of(name) for name in ("off-o",)] == ["off-o"]


def test_two_stations_whose_names_join_alike_have_sections_of_their_own() -> None:
    names = ("a", "b c", "a b", "c")
    body = small(
        stations=[{"name": name, "roads": [road()]} for name in names],
        sections=[{"length": "1000", "rule": "token"}] * 3,
        vehicles=[],
    )
    assert list(taken(body).railway.plant.sections) == ["a-b-c", "b-c-a-b", "a-b-c-2"]
