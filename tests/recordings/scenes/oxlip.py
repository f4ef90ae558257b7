"""What crews do on the Oxlip Line, step by step: the sentences of which its scenes are made.

Rule: each step is one thing that can happen on the layout, with what every detector there would say; readers stand right at
the boundaries, throats are as long as two or three vehicles.
"""

from __future__ import annotations

from ..scene import Scene


def goods_leaves_thistle(s: Scene, after: float = 12.0) -> Scene:
    """g1 (e1 w1 w2 b1) draws out of Thistlecombe's loop and is complete in the section."""
    s.on("thistle-down-throat", after=after).on("thistle-marrow-line", after=3.0)
    s.read("thistle-limit", "e1", after=0.2).read("thistle-limit", "w1", "w2").off("thistle-loop", after=0.3)
    return s.read("thistle-limit", "b1", after=0.7).off("thistle-down-throat", after=1.0)


def goods_comes_to_marrow(s: Scene, road: str = "loop") -> Scene:
    """g1 comes in at Marrowby's up end on a road, and stands there complete."""
    s.on("marrow-up-throat", after=12.0).read("marrow-up-limit", "e1", after=0.2).read("marrow-up-limit", "w1", "w2")
    s.on(f"marrow-{road}", after=0.3).read("marrow-up-limit", "b1", after=0.7)
    return s.off("thistle-marrow-line", after=0.5).off("marrow-up-throat", after=2.5).wait(4.0)


def goods_at_marrow(*story: str, begin: str = "19:01") -> Scene:
    """A scene that begins with g1 come in at Marrowby."""
    return goods_comes_to_marrow(goods_leaves_thistle(Scene(*story, begin=begin)))


def engine_runs_round(s: Scene) -> Scene:
    """e1 leaves its train in Marrowby's loop and goes round by the platform to the other end of it."""
    s.on("marrow-down-throat", after=3.0).on("marrow-platform", after=3.0).off("marrow-down-throat", after=1.5)
    s.on("marrow-up-throat", after=6.0).off("marrow-platform", after=1.5)
    return s.off("marrow-up-throat", after=4.0).wait(3.0)


def lift_from_mill(s: Scene, seen: bool = True) -> Scene:
    """e1 alone goes into the mill, comes out with w4 behind it, and sets back on to its train in the loop.

    `seen`: the mill's reader reads w4 as it should."""
    s.on("marrow-down-throat", after=4.0).read("marrow-mill-reader", "e1", after=3.0).off("marrow-down-throat", after=1.5)
    s.on("marrow-down-throat", after=6.0).read("marrow-mill-reader", "e1", after=0.2)
    if seen:
        s.read("marrow-mill-reader", "w4")
    else:
        s.wait(1.0)
    return s.off("marrow-down-throat", after=6.0).wait(4.0)


def set_out_in(s: Scene, siding: str, *cut: str) -> Scene:
    """e1 draws out of the loop with the wagons next to it, pushes a cut of them into a siding, and sets back without it.

    `cut`: as it passes the siding's reader, its furthest wagon first; the engine stays outside."""
    s.on("marrow-down-throat", after=4.0).read(f"marrow-{siding}-reader", *cut, after=3.0)
    return s.off("marrow-down-throat", after=6.0).wait(4.0)


def goods_takes_token(s: Scene) -> Scene:
    """The crew of g1 lifts the token at Marrowby."""
    return s.off("marrow-token", after=4.0).wait(2.0)


def goods_leaves_marrow(s: Scene, *rake: str) -> Scene:
    """g1 draws out of Marrowby's loop towards Oxlip Quay, and is complete in the section."""
    s.on("marrow-down-throat", after=3.0).on("marrow-oxlip-line", after=3.0).read("marrow-down-limit", rake[0], after=0.2)
    s.read("marrow-down-limit", *rake[1:-1]).off("marrow-loop", after=0.3).read("marrow-down-limit", rake[-1], after=0.7)
    return s.off("marrow-down-throat", after=1.0).wait(3.0)


def goods_comes_to_oxlip(s: Scene, *rake: str) -> Scene:
    """g1 comes in at Oxlip Quay on the platform, complete, and the token is laid down."""
    s.on("oxlip-up-throat", after=12.0).read("oxlip-limit", rake[0], after=0.2).read("oxlip-limit", *rake[1:-1])
    s.on("oxlip-platform", after=0.3).read("oxlip-limit", rake[-1], after=0.7)
    s.off("marrow-oxlip-line", after=0.5).off("oxlip-up-throat", after=2.5)
    return s.lay("oxlip-token", after=4.0).wait(3.0)


def set_out_on_quay(s: Scene, wagon: str) -> Scene:
    """e1 draws the wagon next to it into the neck beyond Oxlip's platform, pushes it on to the quay and leaves it there."""
    s.on("oxlip-down-throat", after=4.0).read("oxlip-quay-reader", wagon, after=4.0)
    return s.off("oxlip-down-throat", after=6.0).wait(4.0)


def token_to_oxlip(s: Scene) -> Scene:
    """Somebody carries the token from Marrowby to Oxlip Quay."""
    return s.off("marrow-token", after=2.0).lay("oxlip-token", after=8.0)


def passenger_leaves_oxlip(s: Scene, after: float = 5.0) -> Scene:
    """p1 (e2, and c1, which works no track detector) goes out of Oxlip Quay and is complete in the section."""
    s.on("oxlip-up-throat", after=after).off("oxlip-platform", after=1.5).on("marrow-oxlip-line", after=1.5)
    s.read("oxlip-limit", "e2", after=0.2).off("oxlip-up-throat", after=1.0)
    return passes_coach(s, "oxlip-limit")


def passes_coach(s: Scene, reader: str) -> Scene:
    """c1 passes a reader, a tag at each end of it."""
    return s.read(reader, "04A1000031", after=0.3).read(reader, "04A1000032", after=1.2)


def passenger_comes_to_marrow(s: Scene) -> Scene:
    """p1 comes in at Marrowby's down end on the platform, complete."""
    s.on("marrow-down-throat", after=9.0).read("marrow-down-limit", "e2", after=0.2).off("marrow-oxlip-line", after=0.6)
    s = passes_coach(s, "marrow-down-limit")
    return s.on("marrow-platform", after=0.5).off("marrow-down-throat", after=1.5).wait(10.0)


def passenger_to_marrow(s: Scene) -> Scene:
    """The token is carried to Oxlip Quay; p1 takes it, runs to Marrowby's platform and lays it down there."""
    token_to_oxlip(s).off("oxlip-token", after=4.0).wait(2.0)
    return passenger_comes_to_marrow(passenger_leaves_oxlip(s)).lay("marrow-token", after=3.0).wait(2.0)


def passenger_leaves_marrow(s: Scene, after: float = 3.0) -> Scene:
    """p1 goes out of Marrowby towards Thistlecombe and is complete in the section."""
    s.on("marrow-up-throat", after=after).off("marrow-platform", after=1.5)
    s.on("thistle-marrow-line", after=1.5).read("marrow-up-limit", "e2", after=0.2).off("marrow-up-throat", after=1.0)
    return passes_coach(s, "marrow-up-limit")


def passenger_comes_to_thistle(s: Scene) -> Scene:
    """p1 comes in at Thistlecombe's down end on the platform, complete."""
    s.on("thistle-down-throat", after=9.0).read("thistle-limit", "e2", after=0.2).off("thistle-marrow-line", after=0.6)
    s = passes_coach(s, "thistle-limit")
    return s.on("thistle-platform", after=0.5).off("thistle-down-throat", after=1.5).wait(10.0)
