"""Vehicles never overlap, never pass through each other, and are counted where they are: whatever a crew tries."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.plan import Railway
from bridge.virtual.motion import Profile
from bridge.virtual.orders import Couples, DrawsClear, RunsTo
from bridge.virtual.staging import Stage
from bridge.virtual.ways import plan_run
from bridge.virtual.world import NEAR_MM, BlockedError, World

from .conftest import demonstration
from .geometry import overlaps, pieces_now

ENGINES = ("e1", "e2", "e3")


def tried(world: World, engine: str, order: RunsTo | DrawsClear | Couples) -> bool:
    """Carry out a run at once, if it can be; whether it could."""
    key = world.key_of(engine)
    try:
        planned = plan_run(world, key, order)
        run, crossings = world.start(key, planned.rake, Profile(planned.distance_mm, 100, 100), 0.0)
    except BlockedError:
        return False
    for crossing in crossings:
        if crossing.what == "in":
            assert crossing.vehicle.id not in world.on[crossing.stretch]
            world.on[crossing.stretch][crossing.vehicle.id] = crossing.vehicle
        elif crossing.what == "out":
            del world.on[crossing.stretch][crossing.vehicle.id]
    world.stop(run)
    if isinstance(order, Couples):
        world.couple(run.key, world.key_of(order.vehicle))
    return True


def judged(world: World, all_vehicles: set[str]) -> None:
    pieces = pieces_now(world, 0.0)
    assert overlaps(world, pieces, NEAR_MM) == []
    counted = {stretch: set(vehicles) for stretch, vehicles in world.on.items() if vehicles}
    assert {stretch: {row[2] for row in rows} for stretch, rows in pieces.items()} == counted
    assert set().union(*counted.values()) == all_vehicles


@st.composite
def orders(draw: st.DrawFn, railway: Railway) -> tuple[str, object]:
    plant = railway.plant
    place = st.sampled_from(sorted(plant.at_stretch))
    vehicle = st.sampled_from(sorted(railway.stock))
    order = draw(
        st.one_of(
            st.builds(RunsTo, place),
            st.builds(RunsTo, place, st.floats(1, 600)),
            st.builds(DrawsClear, place),
            st.builds(Couples, vehicle),
            st.sets(vehicle, max_size=30),
        )
    )
    return draw(st.sampled_from(ENGINES)), order


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_nothing_overlaps_whatever_is_tried(data: st.DataObject) -> None:
    railway = demonstration()
    world = World(railway)
    everything = set(railway.stock)
    judged(world, everything)
    for engine, order in data.draw(st.lists(orders(railway), max_size=25)):
        if isinstance(order, set):
            ids = set(world.rake_of(engine).ids)
            try:
                world.uncouple(world.key_of(engine), (order & ids) - set(ENGINES))
            except BlockedError:
                continue
        elif not tried(world, engine, order):  # type: ignore[arg-type]
            continue
        judged(world, everything)
        assert sum(len(rake.vehicles) for rake in world.rakes.values()) == len(everything)


def test_a_rake_may_reach_every_road_of_the_line(demo: Stage) -> None:
    world = World(demo.railway)
    ran = [
        tried(world, "e1", RunsTo("pettymarsh.platform")),
        tried(world, "e1", RunsTo("featherlow.loop")),
        tried(world, "e1", DrawsClear("featherlow-copperwhin")),
        tried(world, "e1", RunsTo("featherlow.platform")),
        tried(world, "e1", RunsTo("lanternby.platform")),
    ]
    assert ran == [True] * 5
    assert world.standing_on("lanternby.platform") == ["b1", "w06", "w05", "w04", "w03", "w02", "w01", "e1"]


def test_order_stays_whatever_way_it_runs(demo: Stage) -> None:
    world = World(demo.railway)
    before = world.standing_on("lanternby.loop")
    for road in ("pettymarsh.loop", "featherlow.platform", "pettymarsh.platform", "lanternby.loop"):
        assert tried(world, "e1", RunsTo(road))
    assert world.standing_on("lanternby.loop") == before
