"""Unknown is a state: for every cause and every kind of detector, with why, until its input has been heard again."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import pytest

from bridge.core.conditioning.roll import STOOD_STILL
from bridge.core.plant import Detector, DetectorKind
from bridge.wire.lines import RejectReason
from bridge.wire.records import Rejected

from .conftest import DETECTORS, Scene

POWER = Detector("power", DetectorKind.POWER, "alder", 9, feeds=())
ALL = (*DETECTORS, POWER)
OURS = {detector.id: detector for detector in ALL if detector.board == "alder"}
BOARDS = {"alder": "serial", "birch": "mqtt"}
WHEN = 100.0
TAG = "tag=04A1003B68"

Cause = Callable[[Scene], object]


def silent(scene: Scene) -> None:
    scene.until(WHEN + 6.5)


def down(scene: Scene) -> None:
    scene.down(WHEN)


def unplugged(scene: Scene) -> None:
    scene.closed(WHEN)


def new_boot(scene: Scene) -> None:
    scene.hello(WHEN, boot=18)


def stood_still(scene: Scene) -> None:
    scene.host(WHEN, started=False)
    scene.host(WHEN + 3600, started=True)


def opened(scene: Scene) -> None:
    scene.opened(WHEN)


CAUSES: Mapping[str, tuple[Cause, str]] = {
    "board silent": (silent, "its board is lost"),
    "link down": (down, "its board is lost"),
    "port closed": (unplugged, "its link is closed"),
    "port just opened": (opened, "its port was opened just now"),
    "new boot": (new_boot, "its board started again"),
    "host asleep": (stood_still, STOOD_STILL),
}


@pytest.fixture
def known() -> Scene:
    """Every kind of detector, each on, and known."""
    scene = Scene(ALL, BOARDS, {"board_lost_after": 6.0})
    scene.opened(1.0)
    scene.hello(1.1)
    state_all(scene, 2.0)
    for t in range(4, int(WHEN), 2):
        scene.alive(float(t))
    assert all(scene.word(name) != "unknown" for name in OURS)
    return scene


def state_all(scene: Scene, t: float) -> None:
    for detector in OURS.values():
        by_tag = detector.kind in (DetectorKind.READER, DetectorKind.TOKEN_REST)
        scene.state(t, detector.input, TAG if by_tag else "on")


@pytest.mark.parametrize("cause", CAUSES)
@pytest.mark.parametrize("name", OURS)
def test_it_is_unknown_with_why_until_it_is_heard_again(known: Scene, cause: str, name: str) -> None:
    before, happens, why = known.word(name), *CAUSES[cause]
    known.observations.clear()
    happens(known)
    now = known.core.detectors[name]
    assert (now.state, now.why) == ("unknown", why)
    lasting = OURS[name].kind not in (DetectorKind.TREADLE, DetectorKind.READER)
    assert [said for _, said in known.told(name)] == (["unknown"] if lasting else [])  # passings and tags are no states
    assert not [row for row in known.observations if row.moves]
    t = WHEN + 3700
    if cause == "board silent":
        known.alive(t)
        assert known.word(name) == "unknown"  # that the board lives does not say how its inputs stand
    if cause in ("port closed", "port just opened"):
        known.opened(t)
        known.hello(t + 0.1)
    state_all(known, t + 1)
    known.until(t + 5)
    assert (known.word(name), known.core.detectors[name].why) == (before, None)


@pytest.mark.parametrize("name", OURS)
def test_muted_it_is_unknown_until_it_is_unmuted(known: Scene, name: str) -> None:
    before = known.word(name)
    known.keep(known.core.mute(name, WHEN, 1))
    assert (known.word(name), known.core.detectors[name].why) == ("unknown", "muted")
    known.keep(known.core.unmute(name, WHEN + 1, 2))
    assert known.word(name) == before


@pytest.mark.parametrize("name", OURS)
def test_a_retained_message_proves_nothing(known: Scene, name: str) -> None:
    """A link names it and hands it on as no line (`bridge.links.topics`): what is known stays, what is unknown too."""
    before = known.word(name)
    known.feed(Rejected(WHEN - 1, "port-alder", RejectReason.RETAINED.value, b"report alder 17 99 99 1 off*00"))
    assert known.word(name) == before
    known.closed(WHEN)
    known.feed(Rejected(WHEN + 1, "port-alder", RejectReason.RETAINED.value, b"state alder 17 99 99 1 off*00"))
    assert known.word(name) == "unknown"


@pytest.mark.parametrize("name", OURS)
def test_before_it_is_heard_at_all_it_is_unknown(name: str) -> None:
    scene = Scene(ALL, BOARDS, {})
    assert (scene.word(name), scene.core.detectors[name].why) == ("unknown", "not heard yet")


@pytest.mark.parametrize("cause", [cause for cause in CAUSES if cause != "board silent"])
def test_what_had_begun_to_clear_is_never_said_to_be_clear(known: Scene, cause: str) -> None:
    """An off that had not lasted for `clear_after` when its cause came."""
    known.report(WHEN - 0.5, 1, "off")
    CAUSES[cause][0](known)
    known.until(WHEN + 5)
    assert "clear" not in [said for _, said in known.told("dock")]


# --- muted


def test_mute_it_counts_as_unknown(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    (seen,) = scene.core.mute("dock", 2.0, 2).observations
    assert (seen.state, seen.n, seen.t, seen.moves) == ("unknown", 2, 2.0, False)
    assert scene.report(3.0, 1, "off").observations == ()
    scene.until(9.0)
    (seen,) = scene.core.unmute("dock", 10.0, 3).observations
    assert (seen.state, seen.moves) == ("clear", False)


@pytest.mark.parametrize(("number", "value"), [(3, "tag=04A1"), (4, "on"), (5, "on")])
def test_a_muted_treadle_or_reader_says_nothing(scene: Scene, number: int, value: str) -> None:
    for detector in ("mouth", "axles", "engines"):
        scene.core.mute(detector, 1.0, 1)
    assert scene.report(2.0, number, value).observations == ()


def test_an_off_under_way_settles_silently_while_muted(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(2.0, 1, "off")
    scene.core.mute("dock", 2.5, 2)
    scene.until(9.0)
    assert scene.told("dock") == [(1.0, "occupied")]
    assert scene.core.unmute("dock", 9.0, 3).observations[0].state == "clear"


def test_mute_of_an_unknown_detector_is_a_fault_of_the_caller(scene: Scene) -> None:
    with pytest.raises(KeyError):
        scene.core.mute("nowhere", 1.0, 1)
