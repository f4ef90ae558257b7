"""Speed, dwell, closing times and reads against figures from outside; axles, contacts and tags as they are told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.plan import Vehicle
from bridge.virtual.evening import Evening
from bridge.virtual.motion import scale_speed_mm_s
from bridge.virtual.noise import garbled
from bridge.virtual.physics import EM4100_FRAME_S, Physics, ReaderMake, Weakness, axles_mm
from bridge.virtual.script import Script
from bridge.wire.lines import BoardLine

from .passes import ALONE, ENGINE, READER, TREADLE, Line, passes
from .test_motion import SCALES

# -- against figures from outside --------------------------------------------------------------------------------------


# Source: the table of scales worked from NEM 010 and NMRA S-1.2 (60 mph and 100 km/h in mm/s); a 30 mm field.
@pytest.mark.parametrize(("ratio", "mph60", "kmh100"), SCALES)
def test_dwell_in_a_field_at_scale_speed(
    line: Line, monkeypatch: pytest.MonkeyPatch, ratio: float, mph60: float, kmh100: float
) -> None:
    monkeypatch.setattr("bridge.virtual.running.GAIN_MM_S2", 2_000.0)  # up to speed within a road of 1.5 m at any scale
    railway = line(READER.format(id="reader", input=1), ENGINE, ALONE, scale=ratio)
    for km_h, speed in ((60 * 1.609344, mph60), (100.0, kmh100)):
        seen = passes(railway, scale_speed_mm_s(km_h, railway.plant.scale), 2)
        assert seen.dwells_s == pytest.approx([30 / speed] * 2, rel=1e-3)


# Source: the arithmetic of neighbouring programs' users for an assumed 30 mm field and a reed over 8 mm: scale, km/h;
# milliseconds in the field; sure whole frames of a 125 kHz tag (32.8 ms each); share caught by a look each 1 s and each
# 250 ms; sure reads by a look each 50 ms; milliseconds for which the reed is closed.
TABLE = [
    (160, 60, 288, 7, 0.29, 1.00, 5, 77),
    (87, 60, 157, 3, 0.16, 0.63, 3, 42),
    (87, 100, 94, 1, 0.09, 0.38, 1, 25),
    (45, 60, 81, 1, 0.08, 0.32, 1, 22),
    (45, 100, 49, 0, 0.05, 0.19, 0, 13),
]
PASSES = 400
SHARE_TOLERANCE = 0.075
"""Three standard errors of a share of one half in 400 passes."""


def makes(frames: int, looks: int) -> dict[str, ReaderMake]:
    """A reader for each column; of sure reads, one that wants as many as are sure, and one that wants one more."""
    framed = {f"frames-{n}": ReaderMake(frame_s=EM4100_FRAME_S, equal_reads=n) for n in (frames, frames + 1)}
    looking = {f"looks-{n}": ReaderMake(look_s=0.05, equal_reads=n) for n in (looks, looks + 1)}
    polls = {"each-1000": ReaderMake(look_s=1.0), "each-250": ReaderMake(look_s=0.25)}
    return {name: make for name, make in {**polls, **framed, **looking}.items() if make.equal_reads}


@pytest.mark.parametrize(("ratio", "km_h", "dwell_ms", "frames", "slow", "fair", "looks", "reed_ms"), TABLE)
def test_reads_against_speed(
    line: Line,
    figure: Callable[[str], None],
    monkeypatch: pytest.MonkeyPatch,
    ratio: float,
    km_h: float,
    dwell_ms: float,
    frames: int,
    slow: float,
    fair: float,
    looks: int,
    reed_ms: float,
) -> None:
    readers: Mapping[str, ReaderMake] = makes(frames, looks)
    inputs = {name: n for n, name in enumerate(readers, 1)}
    plant = "".join(READER.format(id=name, input=n) for name, n in inputs.items()) + TREADLE.format(sees="engine")
    railway = line(plant, ENGINE, ALONE, length=3000, scale=ratio)
    monkeypatch.setattr("bridge.virtual.running.GAIN_MM_S2", 500.0)
    seen = passes(railway, scale_speed_mm_s(km_h, ratio), PASSES, Physics(readers=readers))
    share = {name: seen.caught(n, PASSES) for name, n in inputs.items()}
    treadled = [r for r in seen.reports if r.input == 9]
    closed = [(off.ms - on.ms) % (1 << 32) for on, off in pairwise(treadled) if on.value == "on"]
    told = "  ".join(f"{name} {part:.2f}" for name, part in share.items())
    figure(f"1:{ratio} at {km_h} km/h, {PASSES} passes: {told}  reed {min(closed)} to {max(closed)} ms of {reed_ms}")

    assert [1000 * dwell for dwell in seen.dwells_s] == pytest.approx([dwell_ms] * len(readers) * PASSES, abs=0.6)
    assert share["each-1000"] == pytest.approx(slow, abs=SHARE_TOLERANCE)
    assert share["each-250"] == pytest.approx(fair, abs=SHARE_TOLERANCE)
    for sure, kind in ((frames, "frames"), (looks, "looks")):
        assert share.get(f"{kind}-{sure}", 1.0) == 1.0
        assert 0.0 < share[f"{kind}-{sure + 1}"] < 1.0
    assert len(closed) == PASSES
    assert all(reed_ms - 2.5 <= ms <= reed_ms + 1.5 for ms in closed)  # whole milliseconds, and up to 1 ms of bounce


# Source of the debounce: the board lines' own 5 to 10 ms, here 8; closing time is length over speed.
@pytest.mark.parametrize(("magnet_mm", "speed", "reported"), [(8, 620, 40), (4, 320, 40), (4, 620, 0)])
def test_a_closing_shorter_than_the_debounce_is_missed(line: Line, magnet_mm: float, speed: float, reported: int) -> None:
    railway = line(TREADLE.format(sees="engine"), ENGINE, ALONE, length=3000)
    seen = passes(railway, speed, 40, Physics(magnet_mm=magnet_mm))
    assert sum(r.value == "on" for r in seen.reports) == reported


# -- contacts ----------------------------------------------------------------------------------------------------------


def test_a_closing_contact_bounces_and_only_who_watches_sees_it(line: Line) -> None:
    railway = line(TREADLE.format(sees="engine"), ENGINE, ALONE)
    unwatched, watched = passes(railway, 200, 40), passes(railway, 200, 40, watched=True)
    assert unwatched.edges == []
    assert watched.reports == unwatched.reports
    closings = [edge.us for edge in watched.edges if edge.value == "on"]
    openings = [edge.us for edge in watched.edges if edge.value == "off"]
    assert len(closings) == len(openings) > 40  # 40 passes, and some bounces
    gaps = [(later.us - earlier.us) % (1 << 32) for earlier, later in pairwise(watched.edges)]
    bounces = [gap for gap in gaps if gap < 8_000]
    assert bounces
    assert max(bounces) <= 2_000  # source: a glossary of reed sensors: 0.05 to 2 ms between edges, 1 ms in all
    assert [edge.value for edge in watched.edges] == ["on", "off"] * len(closings)


# Common practice, no source: two axles of a wagon, bogies under what is long, three axles of a small engine, five of a long.
@pytest.mark.parametrize(
    ("kind", "length_mm", "axles"),
    [("wagon", 80, 2), ("wagon", 200, 4), ("coach", 232, 4), ("brake", 98, 2), ("engine", 150, 3), ("engine", 260, 5)],
)
def test_a_treadle_that_sees_any_feels_every_axle(line: Line, kind: str, length_mm: float, axles: int) -> None:
    stock = [f"e1,{kind if kind == 'engine' else 'engine'},{length_mm if kind == 'engine' else 150},04AA000001,"]
    standing = ["e1,ash.road,2"]
    if kind != "engine":
        stock.append(f"v1,{kind},{length_mm},04AA000002,")
        standing.append("v1,ash.road,1")
    railway = line(TREADLE.format(sees="any"), stock, standing)
    found = sum(r.value == "on" for r in passes(railway, 150, 1).reports)
    assert found == axles + (0 if kind == "engine" else 3)
    places = axles_mm(Vehicle("v", kind, length_mm), 76.2)
    assert sorted(length_mm - place for place in places) == pytest.approx(list(places))  # the same from either end


# -- readers -----------------------------------------------------------------------------------------------------------


def test_what_a_tag_of_any_weakness_loses_speed_makes_little_difference(line: Line) -> None:
    railway = line(READER.format(id="reader", input=1), ENGINE, ALONE)
    physics = Physics(tags={"04AA000001": Weakness(heard_share=0.4, reach_share=1.0)})
    shares = [passes(railway, speed, 300, physics).caught(1, 300) for speed in (80, 320)]
    assert shares == pytest.approx([0.4, 0.4], abs=0.09)  # three standard errors


def test_a_weak_tag_is_heard_over_less_of_the_field(line: Line) -> None:
    railway = line(READER.format(id="reader", input=1), ENGINE, ALONE)
    weak = Physics(tags={"04AA000001": Weakness(heard_share=1.0, reach_share=0.2)})
    seen = passes(railway, 240, 300, weak)
    assert seen.dwells_s == pytest.approx([6 / 240] * 300, rel=1e-3)
    assert seen.caught(1, 300) == pytest.approx(25 / 50, abs=0.09)  # 25 ms in the field, a look each 50 ms
    assert Counter(what for what, _, _ in seen.happened) == {
        "read": len(seen.reports),
        "unread": 300 - len(seen.reports),
    }


def stood(line: Line, make: ReaderMake, away_s: float) -> tuple[int, str]:
    """How often a tag is reported that stands in a field for 5 s, is away for a while and comes back; and how the reader's
    input stood before it went."""
    railway = line(READER.format(id="reader", input=1), ENGINE, ALONE)
    evening = Evening(railway, Script(), physics=Physics(reader=make), crews=[])
    inputs, timeline, (reader,) = evening.scene.inputs, evening.timeline, railway.plant.detectors.values()
    reported: list[BoardLine] = []
    evening.on_line = lambda board, line: reported.append(line)
    evening.boards["one"].awake = True
    shown: list[str] = []
    timeline.at(1.0, lambda: inputs.felt(reader, "04AA000001"))
    timeline.at(6.0, lambda: shown.append(evening.boards["one"].levels[1]))
    timeline.at(6.0, lambda: inputs.left(reader, "04AA000001"))
    timeline.at(6.0 + away_s, lambda: inputs.felt(reader, "04AA000001"))
    while timeline.next_s is not None:
        timeline.step()
    return len(reported), shown[0]


# Source of the 300 ms: the board lines' own rule for a tag that stays. A 125 kHz module repeats each 50 to 65 ms; a builder
# saw some send 2 to 5 times and then nothing while the tag stays.
def test_a_standing_tag_is_reported_once_and_again_after_300_ms_without_it(line: Line) -> None:
    assert stood(line, ReaderMake(), 0.1) == (1, "tag=04AA000001")
    assert stood(line, ReaderMake(), 0.4) == (2, "tag=04AA000001")
    framed = ReaderMake(frame_s=EM4100_FRAME_S)
    assert stood(line, framed, 0.1) == (1, "tag=04AA000001")
    for silent in (replace(framed, silent_after=3), ReaderMake(silent_after=3)):
        assert stood(line, silent, 0.1) == (2, "off")  # its silence is taken for absence


@given(tag=st.binary(min_size=4, max_size=10), seed=st.integers(0, 10_000))
def test_a_garbled_tag_is_another_with_bytes_of_the_same(tag: bytes, seed: int) -> None:
    made = bytes.fromhex(garbled(tag.hex().upper(), Random(seed)))
    assert len(made) == len(tag)
    assert made != tag
