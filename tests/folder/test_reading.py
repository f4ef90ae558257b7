"""What a folder without faults becomes: full ids, defaults filled in, times in seconds, orders from 1."""

from pathlib import Path

import pytest

from bridge.core.plan import Move, Standing
from bridge.core.plant import DetectorKind, SectionRule
from bridge.folder import Broker, load, read

EXAMPLE = Path(__file__).parent / "example"


@pytest.fixture(scope="module")
def result():
    return load(EXAMPLE)


@pytest.fixture(scope="module")
def railway(result):
    assert result.railway is not None
    return result.railway


def test_the_texts_are_kept(result):
    assert result.texts["stock.csv"] == (EXAMPLE / "stock.csv").read_bytes()


def test_broker(result):
    assert result.broker == Broker("127.0.0.1", 1884, False, "shelf")


def test_heading(railway):
    plant = railway.plant
    assert (plant.id, plant.name, plant.scale, plant.clock) == ("shelf-line", "The Shelf Line", 76.2, 4.0)


def test_stations_and_throats(railway):
    assert list(railway.plant.stations) == ["alder", "birch", "cinder"]
    assert railway.plant.stations["alder"].roads == ("alder.platform", "alder.loop", "alder.dock", "alder.neck")
    assert railway.plant.throats["alder.up"].headshunt == "alder.neck"
    assert railway.plant.throats["alder.up"].length_mm == 300
    assert railway.plant.throats["cinder.down"].length_mm is None


def test_fouls_unless_said_are_all_roads_open_at_the_same_end(railway):
    roads = railway.plant.roads
    assert roads["alder.dock"].fouls == ("alder.platform",)
    assert roads["alder.platform"].fouls == ("alder.loop", "alder.dock", "alder.neck")
    assert roads["alder.neck"].fouls == ("alder.platform", "alder.loop")
    assert roads["alder.loop"].reaches == ("alder-birch",)


def test_sections(railway):
    section = railway.plant.sections["alder-birch"]
    assert (section.from_throat, section.to_throat, section.length_mm) == ("alder.down", "birch.up", 5200)
    assert section.token_tags == ("04A1003B68", "04A1003B69")
    assert dict(section.minutes) == {"goods": 6, "passenger": 4}
    assert railway.plant.sections["birch-cinder"].directions == ("up", "down")
    assert railway.plant.sections["birch-cinder"].rule is SectionRule.TRACK_CIRCUIT


def test_detectors(railway):
    detectors = railway.plant.detectors
    assert {d.kind for d in detectors.values()} == set(DetectorKind)
    assert (detectors["alder-dock"].clear_after_ms, detectors["alder-dock"].invert) == (1500, True)
    assert (detectors["alder-platform"].clear_after_ms, detectors["alder-platform"].invert) == (1000, False)
    assert detectors["alder-token-rest"].clear_after_ms == 500
    assert detectors["birch-token-rest"].clear_after_ms == 400
    assert detectors["birch-in"].clear_after_ms == 0
    assert (detectors["birch-in"].at, detectors["birch-in"].sees, detectors["birch-in"].side) == (
        "alder-birch@birch",
        "engine",
        "down",
    )
    assert detectors["alder-dock-points"].off == ("alder.platform", "alder.loop")
    assert detectors["alder-power"].feeds == ("alder.dock", "alder.platform", "alder.down", "alder-birch")
    assert railway.plant.boards["alder"].port == "/dev/ttyUSB0"


def test_limits_are_all_there(railway):
    assert railway.plant.limits["out_after"] == 25
    assert len(railway.plant.limits) == 15
    bare = read({"railway.toml": (EXAMPLE / "railway.toml").read_bytes().replace(b"out_after = 25\n", b"")})
    assert bare.railway is not None
    # the figures that outcomes.md names where it says when each kind is raised
    assert bare.railway.plant.limits["out_after"] == 20


def test_limits_of_the_contract():
    text = (EXAMPLE / "railway.toml").read_text()
    start, _, rest = text.partition("[limits]")
    found = read({"railway.toml": (start + "[broker]" + rest.partition("[broker]")[2]).encode()})
    assert found.railway is not None
    assert found.railway.plant.limits == {
        "out_after": 20, "complete_after": 30, "divided_after": 10, "occupied_for": 0.5, "trip_for": 60,
        "board_lost_after": 6, "reports_lost_after": 5, "tag_within": 10, "noisy_within": 10, "early_by": 60,
        "due_before": 600, "noisy_changes": 20, "weak_reads": 20, "weak_share": 0.2, "overdue_factor": 1.5,
    }  # fmt: skip


def test_stock(railway):
    stock = railway.stock
    assert stock["w1"].painted == "Q 11"
    assert stock["w1"].tags == ("04C3000011", "04C3000111")
    assert stock["w2"].length_mm == 104.5
    assert stock["w2"].notes == "roof mended, twice"
    assert stock["w3"].notes == "a note\non two lines"
    assert stock["w3"].home == "alder.dock"
    assert [v.id for v in stock.values() if not v.detected] == ["w2"]
    assert [v.id for v in stock.values() if v.tail] == ["e2", "b1"]
    assert stock["c1"].klass == "third"


def test_standing_is_in_order(railway):
    assert railway.standing[:4] == (
        Standing("b1", "alder.platform", 1),
        Standing("w2", "alder.platform", 2),
        Standing("w1", "alder.platform", 3),
        Standing("e1", "alder.platform", 4),
    )


def test_orders_left_empty_keep_the_order_of_the_file():
    texts = {path.name: path.read_bytes() for path in EXAMPLE.iterdir()}
    texts["whereabouts.csv"] = b"vehicle,road\nb1,alder.platform\nw2,alder.platform\nw3,alder.dock\nw1,alder.platform\n"
    found = read(texts).railway
    assert found is not None
    assert [(s.vehicle, s.order) for s in found.standing] == [("b1", 1), ("w2", 2), ("w1", 3), ("w3", 1)]


def test_workings(railway):
    g1, p1 = railway.workings.values()
    assert (g1.id, g1.kind, g1.engine, g1.rake) == ("g1", "goods", "e1", ("w1", "w2", "b1"))
    assert [(c.index, c.station, c.road) for c in g1.calls] == [
        (0, "alder", "alder.platform"), (1, "birch", "birch.loop"), (2, "cinder", "cinder.main")
    ]  # fmt: skip
    assert (g1.calls[1].arrive_s, g1.calls[1].depart_s) == (69060, 70830)
    assert g1.calls[0].arrive_s is None
    assert p1.calls[1].wait_for == ("g1",)
    assert p1.calls[2].road == "alder.loop"


def test_times_may_pass_midnight():
    texts = {path.name: path.read_bytes() for path in EXAMPLE.iterdir()}
    texts["timetable.csv"] = texts["timetable.csv"].replace(b"19:34", b"24:03:05")
    found = read(texts).railway
    assert found is not None
    assert found.workings["p1"].calls[2].arrive_s == 86585


def test_moves(railway):
    assert railway.moves == (
        Move(0, "w1", "alder.platform", "birch.coal", "g1", 1, "coal", ""),
        Move(1, "w2", "alder.platform", "cinder.hopper", "g1", None, "empty", ""),
        Move(2, "w3", "alder.dock", "birch.coal", "g1", None, "", "leave near the ramp"),
    )


@pytest.mark.parametrize("delimiter", [";", "\t"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_other_spreadsheets_write_the_same(railway, delimiter, mark, end):
    texts = {}
    for path in EXAMPLE.iterdir():
        text = path.read_text()
        if path.suffix == ".csv":
            text = text.replace('"roof mended, twice"', "roof mended\0 twice").replace(",", delimiter).replace("\0", ",")
            text = text.replace("104.5", "104,5")
        texts[path.name] = mark + text.replace("\n", end).encode()
    assert read(texts).railway == railway


def test_columns_in_any_order_and_case(railway):
    texts = {path.name: path.read_bytes() for path in EXAMPLE.iterdir()}
    texts["whereabouts.csv"] = b"Order,ROAD,colour,Vehicle\n" + b"".join(
        b"%s,%s,blue,%s\n" % tuple(reversed(row.split(b","))) for row in texts["whereabouts.csv"].split(b"\n")[1:] if row
    )
    assert read(texts).railway == railway


def test_the_password_has_no_place_in_the_folder():
    text = (EXAMPLE / "railway.toml").read_bytes().replace(b'user = "shelf"', b'password = "secret"')
    said = next(f for f in read({"railway.toml": text}).findings if f.level == "fault")
    assert "broker-password" in said.remedy


def test_a_double_line_is_two_sections():
    text = (
        (EXAMPLE / "railway.toml")
        .read_bytes()
        .replace(b'"token"\ndirections = ["up", "down"]', b'"token"\ndirections = ["down"]')
    )
    text = text.replace(b'reaches = ["alder-birch"]', b'reaches = ["alder-birch", "birch-alder"]')
    text += b'[[section]]\nid = "birch-alder"\nfrom = "alder.down"\nto = "birch.up"\nlength = 5000\nrule = "one-train"\n'
    text += b'directions = ["up"]\n'
    texts = {path.name: path.read_bytes() for path in EXAMPLE.iterdir()} | {"railway.toml": text}
    found = read(texts)
    assert found.railway is not None
    assert [f for f in found.findings if f.level == "conflict"] == []
    assert found.railway.plant.section_between("alder", "birch").id == "alder-birch"
    assert found.railway.plant.section_between("birch", "alder").id == "birch-alder"
