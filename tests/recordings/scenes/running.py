"""Scenes of running: shunts past the section end, departures that were none, the clock, sessions in a row."""

from __future__ import annotations

from ..scene import Scene
from . import oxlip


def draw_out_and_back() -> Scene:
    """g1 draws out past Thistlecombe's limit and comes back within seconds: neither departed nor entered."""
    s = Scene(
        "g1 draws out past Thistlecombe's section end with engine and first wagon, and sets back within seconds: a shunt."
    )
    s.on("thistle-down-throat", after=12.0).on("thistle-marrow-line", after=3.0)
    s.read("thistle-limit", "e1", after=0.2).read("thistle-limit", "w1")
    s.wait(4.0).read("thistle-limit", "w1", "e1").off("thistle-marrow-line", after=0.3)
    return s.off("thistle-down-throat", after=4.0).wait(12.0)


def departure_corrected() -> Scene:
    """g1 stands complete in the section for 10 s, then comes back: it had been said to have departed."""
    s = oxlip.goods_leaves_thistle(
        Scene("g1 goes out of Thistlecombe, complete; its crew has forgotten the papers, and it sets back.")
    )
    s.wait(10.0).on("thistle-down-throat").read("thistle-limit", "b1", after=0.2).read("thistle-limit", "w2")
    s.on("thistle-loop", after=0.3).read("thistle-limit", "w1", "e1", after=0.9).off("thistle-marrow-line", after=0.4)
    return s.off("thistle-down-throat", after=3.0).wait(12.0)


def propelled_set_out() -> Scene:
    """e1 propels w1 into the mill and stays outside: only w1 is ever read there."""
    s = oxlip.goods_at_marrow(
        "g1's engine pushes w1 into the mill and stops short of its reader: only w1 is ever read there."
    )
    return oxlip.set_out_in(s, "mill", "w1").wait(8.0)


def stopped_clock() -> Scene:
    """The session clock stands while g1 is on its way; what counts by real time goes on."""
    s = oxlip.goods_leaves_thistle(
        Scene("The clock is stopped while g1 is on its way, and goes on once it stands at Marrowby.")
    )
    s = oxlip.goods_comes_to_marrow(s.say("stop-clock", after=3.0))
    return s.say("go-on", after=20.0).wait(6.0)


def late_reports() -> Scene:
    """The reads of g1 going out reach the host only after what came behind them, sent again."""
    s = Scene("All reads at Thistlecombe's limit are lost as g1 goes out, and come 4 s late, sent again in one go.")
    s.on("thistle-down-throat", after=13.0).on("thistle-marrow-line", after=3.0)
    s.read("thistle-limit", "e1", after=0.2, lost=True).read("thistle-limit", "w1", "w2", lost=True)
    s.off("thistle-loop", after=0.3).read("thistle-limit", "b1", after=0.7, lost=True).off("thistle-down-throat", after=1.0)
    return oxlip.goods_comes_to_marrow(s.send_again("thistle", after=1.0))


def incomplete_then_proved() -> Scene:
    """The last vehicle is missed and the section's detector is muted: cleared without proof, which comes later."""
    s = Scene(
        "The detector of section thistle-marrow is muted, and the reader at Marrowby misses g1's last vehicle: the section",
        "counts as cleared, not complete; once the detector counts again it says clear, and that is proof.",
    )
    s = oxlip.goods_leaves_thistle(s.say("mute thistle-marrow-line", after=3.0), after=9.0)
    s.on("marrow-up-throat", after=12.0).read("marrow-up-limit", "e1", after=0.2).read("marrow-up-limit", "w1", "w2")
    s.on("marrow-loop", after=0.3).off("thistle-marrow-line", after=1.2).off("marrow-up-throat", after=2.5)
    return s.wait(45.0).say("unmute thistle-marrow-line").wait(6.0)


def service_restarted() -> Scene:
    """The service is stopped for 30 s while g1 is on its way: no deadline passes, earlier states are stale."""
    s = oxlip.goods_leaves_thistle(
        Scene("The service is stopped for 30 s while g1 is on its way, and started again in time.")
    )
    s.host("stopped", after=2.0)
    s.silent.update(s.boot)
    s.wait(30.0).host("started")
    for board in s.boot:
        s.speak(board)
    return oxlip.goods_comes_to_marrow(s)


def board_restarts() -> Scene:
    """Thistlecombe's board starts anew before g1 leaves: other boot, numbers from 1."""
    s = Scene("Somebody pulls the plug of Thistlecombe's board and puts it back: another boot, whose numbers count from 1.")
    return oxlip.goods_comes_to_marrow(oxlip.goods_leaves_thistle(s.restart("thistle", after=4.0), after=6.0))


def two_sessions() -> Scene:
    """A session ends, another begins: what lies between belongs to the next, and says nothing."""
    s = oxlip.goods_leaves_thistle(
        Scene("A session is ended with g1 on its way; everything is set back, and another begins.")
    )
    s.say("end", after=4.0).on("thistle-loop", after=5.0).off("thistle-marrow-line", after=1.0).wait(3.0)
    for board in s.boot:
        s.tell_states(board)
    return oxlip.goods_leaves_thistle(s.say("begin 19:01", after=2.0), after=5.0).wait(4.0)


def begin_refused() -> Scene:
    """`begin` while a session runs changes nothing."""
    s = Scene("Somebody says begin although the session runs already: the clock goes on as it was.")
    return s.say("begin 21:00", after=6.0).wait(3.0).say("end")


SCENES = {
    "draw-out-and-back": draw_out_and_back,
    "departure-corrected": departure_corrected,
    "propelled-set-out": propelled_set_out,
    "stopped-clock": stopped_clock,
    "late-reports": late_reports,
    "cleared-incomplete-then-proved": incomplete_then_proved,
    "service-restarted": service_restarted,
    "board-restarts": board_restarts,
    "two-sessions": two_sessions,
    "begin-refused": begin_refused,
}
