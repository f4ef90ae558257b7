"""A shunt on paper: whatever the yard, every vehicle ends where it should, and nothing is ever too long for its place."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bridge.virtual.crew.passes import Planned, Wish, plan
from bridge.virtual.crew.stacks import Step, Yard

ENGINE_MM = 160.0


def yard(neck_mm: float, **stacks: str) -> Yard:
    """Roads with their vehicles, nearest first; 100 mm a vehicle, 1000 mm a road."""
    rows = {name: tuple(row.split()) for name, row in stacks.items()}
    return Yard(rows, dict.fromkeys(rows, 1000.0), {v: 100.0 for row in rows.values() for v in row}, "the neck", neck_mm)


def shunted(start: Yard, planned: Planned) -> dict[str, tuple[str, ...]]:
    """The roads after these steps, worked out anew; looks that nothing is too long on the way."""
    stacks, rake = dict(start.stacks), ()
    for step in planned.steps:
        if step.pull:
            rake, stacks[step.road] = rake + stacks[step.road][: step.count], stacks[step.road][step.count :]
        else:
            rake, stacks[step.road] = rake[: -step.count], rake[-step.count :] + stacks[step.road]
        assert start.length_of(rake) <= start.neck_mm
        assert all(start.length_of(row) <= start.room_mm[name] for name, row in stacks.items())
    assert rake == ()
    return stacks


def test_one_drawing_out_where_the_neck_holds_it_all() -> None:
    start = yard(800, here="a b c d", dock="w x y")
    planned = plan(start, Wish("here", ("a", "b", "c", "d"), "here", {"b": "dock", "x": ""}, ENGINE_MM))
    assert planned.steps[:2] == (Step("here", 2, True), Step("dock", 2, True))
    assert shunted(start, planned) == {"here": ("a", "x", "c", "d"), "dock": ("b", "w", "y")}


def test_a_van_taken_along_is_the_last_again() -> None:
    start = yard(800, here="van a b", dock="w x")
    planned = plan(start, Wish("here", ("van", "a", "b"), "here", {"w": ""}, ENGINE_MM, takes_along=1))
    assert shunted(start, planned)["here"] == ("van", "w", "a", "b")


def test_in_parts_where_the_neck_is_short() -> None:
    start = yard(200, here="a b c d", dock="", other="")
    planned = plan(start, Wish("here", ("a", "b", "c", "d"), "here", {"d": "dock"}, ENGINE_MM))
    assert planned.left_out == {}
    assert shunted(start, planned) == {"here": ("a", "b", "c"), "dock": ("d",), "other": ()}


def test_a_neck_for_nothing_and_a_siding_for_nothing_are_said() -> None:
    start = yard(90, here="a b", dock="")
    planned = plan(start, Wish("here", ("a", "b"), "here", {"a": "dock"}, ENGINE_MM))
    assert planned.steps == ()
    assert planned.left_out["a"].startswith("the neck has room for 90 mm behind the engine")
    full = yard(900, here="a b", dock=" ".join(f"w{n}" for n in range(10)))
    planned = plan(full, Wish("here", ("a", "b"), "here", {"a": "dock"}, ENGINE_MM))
    assert planned.left_out == {"a": "on dock there is no room for a: of 1000 mm, 1000 mm are taken"}


@given(st.data())
def test_every_yard(data: st.DataObject) -> None:
    """Nothing is asserted of how: only that who is planned for gets there, the others stay, and nobody is lost."""
    names = ["here", "dock", "pit", "den"]
    vehicles = [f"v{n}" for n in range(data.draw(st.integers(1, 14)))]
    stacks: dict[str, list[str]] = {name: [] for name in names}
    for vehicle in vehicles:
        stacks[data.draw(st.sampled_from(names))].append(vehicle)
    start = yard(
        data.draw(st.sampled_from([100, 200, 300, 700, 2000])), **{name: " ".join(row) for name, row in stacks.items()}
    )
    train = tuple(stacks["here"])
    goes = {}
    for vehicle in data.draw(st.lists(st.sampled_from(vehicles), max_size=5, unique=True)):
        stood = next(name for name, row in stacks.items() if vehicle in row)
        targets = ["dock", "pit", "den"] if vehicle in train else ["", "dock", "pit", "den"]
        target = data.draw(st.sampled_from(targets))
        if target != stood:
            goes[vehicle] = target
    planned = plan(start, Wish("here", train, "here", goes, ENGINE_MM, in_one_go=data.draw(st.booleans())))
    assert set(planned.goes) | set(planned.left_out) == set(goes)
    assert all(planned.left_out.values())
    after = shunted(start, planned)
    for name, row in stacks.items():
        for vehicle in row:
            wanted = (planned.goes[vehicle] or "here") if vehicle in planned.goes else name
            assert vehicle in after[wanted]
    assert sorted(v for row in after.values() for v in row) == sorted(vehicles)
    kept = [v for v in train if v not in planned.goes]
    assert [v for v in after["here"] if v in kept] == kept  # the train keeps its order
