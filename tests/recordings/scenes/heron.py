"""What crews do on the Heron Canal Line, step by step: the sentences of which its scenes are made.

Rule: each step is one thing that can happen on the layout, with what every detector there would say; readers stand right at
the boundaries, throats are as long as two or three vehicles.
"""

from __future__ import annotations

from ..scene import Scene

GOODS = ("e1", "w1", "w2", "b1")
WITH_LIFTED = ("e1", "w3", "w1", "w2", "b1")
PASSENGER = ("e2", "c1")


def goes_out(s: Scene, station: str, road: str, end: str, section: str, *rake: str, after: float = 5.0) -> Scene:
    """A train draws out of a road by an end of its station, and is complete in the section."""
    reader = f"{section}-at-{station}"
    s.on(f"{station}-{end}-throat", after=after).on(f"{section}-line", after=3.0).read(reader, rake[0], after=0.2)
    s.read(reader, *rake[1:-1]).off(f"{station}-{road}", after=0.3).read(reader, rake[-1], after=0.7)
    return s.off(f"{station}-{end}-throat", after=1.0).wait(2.0)


def comes_in(s: Scene, station: str, road: str, end: str, section: str, *rake: str, after: float = 9.0) -> Scene:
    """A train comes in by an end of a station on a road, and stands there complete."""
    reader = f"{section}-at-{station}"
    s.on(f"{station}-{end}-throat", after=after).read(reader, rake[0], after=0.2).read(reader, *rake[1:-1])
    s.on(f"{station}-{road}", after=0.3).read(reader, rake[-1], after=0.7)
    return s.off(f"{section}-line", after=0.5).off(f"{station}-{end}-throat", after=2.5).wait(4.0)


def goods_leaves_weir(s: Scene, after: float = 14.0) -> Scene:
    """d1 goes out of Weirhead's loop by the down line."""
    return goes_out(s, "weir", "loop", "down", "weir-lock", *GOODS, after=after)


def goods_to_lock(s: Scene, after: float = 14.0) -> Scene:
    """d1 runs from Weirhead to Lockside's loop."""
    return comes_in(goods_leaves_weir(s, after), "lock", "loop", "up", "weir-lock", *GOODS, after=40.0)


def lift_from_maltings(s: Scene) -> Scene:
    """e1 alone goes into the maltings, comes out with w3 behind it, and sets back on to its train in the loop."""
    s.on("lock-down-throat", after=4.0).read("lock-maltings-reader", "e1", after=3.0).off("lock-down-throat", after=1.5)
    s.on("lock-down-throat", after=6.0).read("lock-maltings-reader", "e1", after=0.2).read("lock-maltings-reader", "w3")
    return s.off("lock-maltings", after=0.5).off("lock-down-throat", after=5.0).wait(4.0)


def puts_on_platform(s: Scene) -> Scene:
    """e1 alone draws w3 out of the maltings, leaves it on Lockside's platform, and goes back to its train; it is said so."""
    s.on("lock-down-throat", after=4.0).read("lock-maltings-reader", "e1", after=3.0).off("lock-down-throat", after=1.5)
    s.on("lock-down-throat", after=6.0).read("lock-maltings-reader", "e1", after=0.2).read("lock-maltings-reader", "w3")
    s.off("lock-maltings", after=0.5).on("lock-platform", after=4.0).off("lock-down-throat", after=8.0).wait(3.0)
    return s.say("stands w3 lock.platform")


def takes_from_platform(s: Scene) -> Scene:
    """e1 alone fetches w3 from Lockside's platform to its train in the loop, and it is said so."""
    s.on("lock-down-throat", after=4.0).off("lock-platform", after=10.0).off("lock-down-throat", after=8.0)
    return s.say("stands w3 lock.loop", after=3.0).wait(3.0)


def goods_ready_at_lock(s: Scene, after: float = 14.0) -> Scene:
    """d1 runs from Weirhead to Lockside, and has done its work there."""
    return lift_from_maltings(goods_to_lock(s, after))


def goods_leaves_lock(s: Scene, after: float = 5.0) -> Scene:
    """d1 goes out of Lockside's loop over the canal, with w3."""
    return goes_out(s, "lock", "loop", "down", "lock-basin", *WITH_LIFTED, after=after)


def goods_comes_to_basin(s: Scene) -> Scene:
    """d1 comes in at Heron Basin on the platform."""
    return comes_in(s, "basin", "platform", "up", "lock-basin", *WITH_LIFTED)


def passenger_leaves_basin(s: Scene, after: float = 5.0) -> Scene:
    """u1 goes out of Heron Basin over the canal."""
    return goes_out(s, "basin", "platform", "up", "lock-basin", *PASSENGER, after=after)


def passenger_to_lock(s: Scene, after: float = 5.0, way: float = 40.0) -> Scene:
    """u1 runs from Heron Basin to Lockside's platform, `way` seconds on its way between the ends."""
    return comes_in(passenger_leaves_basin(s, after), "lock", "platform", "down", "lock-basin", *PASSENGER, after=way)
