"""Scenes of detectors that say too much, too little or what cannot be, and of what only looks so."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip
from .branch import comes_to_quarry, leaves_fell
from .shuttle import TO_BRACKEN, TO_MOSS

LINE = "marrow-oxlip-line"


def _flutters(s: Scene, detector: str, times: int, on_s: float = 0.06, off_s: float = 0.14, after: float = 0.5) -> Scene:
    """An input goes on and off, so many times."""
    s.wait(after)
    for _ in range(times):
        s.on(detector, after=off_s).off(detector, after=on_s)
    return s


def noisy() -> Scene:
    """A wire has come off: the section's input floats, in two bursts a minute apart."""
    s = Scene(
        "The wire of the detector of section marrow-oxlip has come off at its terminal while nothing runs there: its input",
        "floats, and changes 48 times in some seconds, a minute later again. Then the wire is put back, and it is calm.",
    )
    _flutters(s, LINE, 24, after=20.0)
    return _flutters(s, LINE, 15, after=60.0).wait(605.0)


def noisy_with_an_occupation() -> Scene:
    """The input that floats stays on for some seconds at last."""
    s = Scene(
        "The input of the detector of section marrow-oxlip floats, with nothing there; at last it stays on for 6 s: that",
        "something is there is told at once, and that the detector is under doubt.",
    )
    _flutters(s, LINE, 20, after=20.0)
    return s.on(LINE, after=4.0).off(LINE, after=6.0).wait(8.0)


def noisy_under_a_train() -> Scene:
    """The input floats while a train is in the section: faster than wheels."""
    s = Scene(
        "g1 is on its way to Marrowby as the input of its section's detector begins to float: 40 changes in 0.4 s.",
    )
    oxlip.goods_leaves_thistle(s)
    _flutters(s, "thistle-marrow-line", 20, on_s=0.009, off_s=0.009, after=6.0)
    s.on("thistle-marrow-line", after=0.02)
    return oxlip.goods_comes_to_marrow(s)


def dirty_wheels() -> Scene:
    """The section's detector drops out again and again under g1."""
    s = Scene(
        "The rails between Thistlecombe and Marrowby are dirty, and only some of g1's axles are felt: the detector drops",
        "out 22 times in 9 s under it.",
    )
    oxlip.goods_leaves_thistle(s)
    s.off("thistle-marrow-line", after=2.0).on("thistle-marrow-line", after=0.1)
    for _ in range(21):
        s.off("thistle-marrow-line", after=0.27).on("thistle-marrow-line", after=0.13)
    return oxlip.goods_comes_to_marrow(s)


def on_the_edge() -> Scene:
    """q1 stops with a magnet over the edge of the treadle."""
    s = Scene(
        "q1 comes in at Quarry Head and stops with b2's magnet over the edge of the tail treadle, which opens and closes 25",
        "times in 8 s as the van rocks.",
        folder="branch",
        begin="20:01",
    )
    s = leaves_fell(s.off("fell-staff", after=8.0).wait(2.0), "main")
    s.on("quarry-up-throat", after=15.0).tread("quarry-in", after=0.1).on("quarry-loop", after=2.0)
    for _ in range(25):
        s.tread("quarry-tail", after=0.2)
    return s.off("quarry-up-throat", after=2.5).wait(12.0)


def _shuttle_runs(s: Scene, way: tuple[str, str, tuple[str, ...]], dead: str = "") -> Scene:
    """s1 runs from one platform to the other; one track detector says nothing of it."""
    start, goal, train = way

    def track(detector: str, value: str, after: float) -> None:
        if detector != dead:
            s.report(detector, value, after)
        else:
            s.wait(after)

    for limit, platform in ((start, "off"), (goal, "on")):
        track(f"{limit}-throat", "on", 12.0)
        if limit == start:
            track("line", "on", 2.0)
        s.read(f"{limit}-limit", train[0], after=0.2)
        s.read(f"{limit}-limit", *train[1:3]).report(f"{limit}-platform", platform, after=0.1)
        s.read(f"{limit}-limit", *train[3:])
        if limit == goal:
            track("line", "off", 0.5)
        track(f"{limit}-throat", "off", 1.5)
    return s.wait(6.0)


def _on_shuttle(*story: str) -> Scene:
    return Scene(*story, folder="shuttle", begin="10:00").wait(20.0)


def stuck_off() -> Scene:
    """The section's detector sees nothing of two runs."""
    s = _on_shuttle(
        "A wire of the detector of section moss-bracken is broken: it says clear while s1 runs to Bracken Road and back.",
        "The wire is mended, and the third run is seen.",
    )
    s = _shuttle_runs(_shuttle_runs(s, TO_BRACKEN, "line"), TO_MOSS, "line")
    return _shuttle_runs(s, TO_BRACKEN).wait(6.0)


def near_stuck_off() -> Scene:
    """The section's detector sees nothing of one run."""
    s = _on_shuttle(
        "The detector of section moss-bracken sees nothing of s1's run to Bracken Road, whose wheels are dirty; on the way",
        "back it does.",
    )
    return _shuttle_runs(_shuttle_runs(s, TO_BRACKEN, "line"), TO_MOSS).wait(6.0)


def stuck_on() -> Scene:
    """The throat at Bracken Road stays occupied when s1 is through, and when it has gone again."""
    s = _on_shuttle(
        "A screw lies across the gap of the rails in the throat of Bracken Road: its detector goes on with s1's first run",
        "and stays on, over three runs more. The screw is found and taken away.",
    )
    s = _shuttle_runs(s.on("bracken-throat", after=2.0), TO_BRACKEN, "bracken-throat")
    for way in (TO_MOSS, TO_BRACKEN, TO_MOSS):
        s = _shuttle_runs(s, way, "bracken-throat")
    return s.off("bracken-throat", after=4.0).wait(4.0)


def stuck_treadle() -> Scene:
    """The treadle at Fellgate's end tells of neither train."""
    s = Scene(
        "The treadle at Fellgate's section end has come loose: neither q1, on a ticket, nor q2, with the staff, works it.",
        folder="branch",
        begin="20:01",
    )
    s.say("give fell-quarry q1 ticket", after=18.0)
    for road, goal in (("main", "loop"), ("loop", "main")):
        s.on("fell-down-throat", after=4.0).wait(3.0).off(f"fell-{road}", after=1.5)
        s.tread("fell-tail", after=1.5).off("fell-down-throat", after=1.0)
        s = comes_to_quarry(s, goal)
        if road == "main":
            s.wait(60.0).off("fell-staff", after=4.0).wait(2.0)
    return s.wait(6.0)


def token_on_two_rests() -> Scene:
    """Marrowby's rest goes on saying that the token lies there."""
    s = Scene(
        "The token of marrow-oxlip is carried from Marrowby to Oxlip Quay, and the rest at Marrowby says still that it lies",
        "there: a second tag has been left on it. Ten seconds later somebody takes that away.",
        begin="19:02",
    )
    return s.lay("oxlip-token", after=15.0).wait(10.0).off("marrow-token").wait(6.0)


def token_told_late() -> Scene:
    """Marrowby's rest says 3 s late that the token has gone."""
    s = Scene(
        "The token of marrow-oxlip is thrown across from Marrowby to Oxlip Quay, which are a yard apart on this layout: the",
        "rest at Marrowby says that it has gone 3 s after the other has read it.",
        begin="19:02",
    )
    return s.lay("oxlip-token", after=15.0).off("marrow-token", after=3.0).wait(12.0)


SCENES = {
    "detector-noisy": noisy,
    "detector-noisy-with-an-occupation": noisy_with_an_occupation,
    "detector-noisy-under-a-train": noisy_under_a_train,
    "near-detector-noisy": dirty_wheels,
    "near-detector-noisy-on-the-edge": on_the_edge,
    "detector-stuck": stuck_off,
    "detector-stuck-on": stuck_on,
    "detector-stuck-treadle": stuck_treadle,
    "near-detector-stuck": near_stuck_off,
    "detector-contradicted": token_on_two_rests,
    "near-detector-contradicted": token_told_late,
}
