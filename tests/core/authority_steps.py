"""What trains, tokens and operators do between Ash and Birch, a step each."""

from __future__ import annotations

from collections.abc import Callable

from bridge.wire.lines import Hello
from bridge.wire.records import Received

from .conftest import TOKEN, Session

Step = Callable[[Session], object]


def say(words: str) -> Step:
    return lambda s: s.say(words)


def g1_out(s: Session) -> None:
    """g1 goes out of Ash with w1 and v1, complete."""
    s.goods_leaves()


def g1_in(s: Session) -> None:
    """g1 comes in at Birch, complete."""
    s.goods_comes().wait(3.0)


def g1_in_unproved(s: Session) -> None:
    """g1 comes in at Birch; nobody sees its last vehicle, and the section's detector is muted."""
    s.say("mute line")
    s.goods_comes(last=False).wait(40.0)


def g1_shunts(s: Session) -> None:
    """g1 draws out of Ash past the section end, and comes back within seconds."""
    s.on("ash-throat", after=2.0).on("line", after=1.0).read("ash-end", "e1", after=0.2)
    s.wait(4.0).read("ash-end", "e1").off("line", after=0.2).off("ash-throat", after=2.0).wait(3.0)


def p2_out(s: Session) -> None:
    """p2, an engine alone, goes out of Ash."""
    s.on("ash-throat", after=2.0).on("line", after=1.0).read("ash-end", "e2", after=0.2)
    s.off("ash-loop", "ash-throat")


def r3_out(s: Session) -> None:
    """r3, an engine alone, goes out of Birch."""
    s.on("birch-throat", after=2.0).on("line", after=1.0).read("birch-end", "e3", after=0.2)
    s.off("birch-loop", "birch-throat")


def lift(s: Session) -> None:
    """The token is taken from its rest at Ash."""
    s.off("ash-rest").wait(2.0)


def lay_at_birch(s: Session) -> None:
    """The token is laid on its rest at Birch."""
    s.see("birch-rest", f"tag={TOKEN}").wait(1.0)


def lift_at_birch(s: Session) -> None:
    """The token is taken from its rest at Birch."""
    s.off("birch-rest").wait(2.0)


def reset(s: Session) -> None:
    """The board starts anew, and has stated nothing yet."""
    s.take(Received(s.t, "mqtt", Hello("one", 1, 1000, 20)))
    s.take(Received(s.t, "mqtt", Hello("one", 2, 10, 20)))


def flickering_line(s: Session) -> None:
    """The section's detector says occupied, and nobody is believed there."""
    s.on("line").wait(30.0)
