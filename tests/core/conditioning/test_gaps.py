"""Every sentence of the contracts on numbers that are missing: a gap, overdue, filled, restated."""

from __future__ import annotations

from .conftest import Scene


def test_a_lost_number_is_a_gap_at_once_and_overdue_5_s_after_it_is_seen(strict: Scene) -> None:
    strict.report(1.0, 6, "on", seq=1)
    strict.report(2.0, 6, "off", seq=4)
    strict.alive(5.0, seq=4)
    strict.until(7.0)
    rows = [(c.kind, c.t, c.n, c.boot, c.first, c.last, c.since_t) for c in strict.news("gap", "gap_overdue")]
    assert rows == [("gap", 2.0, 4, 17, 2, 3, 2.0), ("gap_overdue", 7.0, 4, 17, 2, 3, 2.0)]
    assert strict.core.boards["alder"].missing == 2


def test_a_gap_that_is_filled_in_time_is_not_overdue(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=1)
    scene.report(2.0, 6, "off", seq=4)
    scene.report(3.0, 6, "off", seq=2, ms=1200)
    assert scene.news("gap_filled") == []
    scene.report(3.0, 6, "on", seq=3, ms=1500)
    scene.until(60.0)
    assert [(c.kind, c.first, c.last) for c in scene.news("gap", "gap_filled", "gap_overdue")] == [
        ("gap", 2, 3),
        ("gap_filled", 2, 3),
    ]
    assert scene.core.boards["alder"].missing == 0


def test_a_gap_filled_in_part_is_overdue(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=1)
    scene.report(2.0, 6, "off", seq=4)
    scene.report(3.0, 6, "off", seq=2, ms=1200)
    scene.until(60.0)
    assert [c.kind for c in scene.news("gap_overdue", "gap_filled")] == ["gap_overdue"]
    scene.report(61.0, 6, "on", seq=3, ms=1500)
    assert [c.kind for c in scene.news("gap_overdue", "gap_filled")] == ["gap_overdue", "gap_filled"]


def test_an_overdue_gap_is_restated_when_all_the_boards_inputs_have_been_stated_since(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=1)
    scene.report(2.0, 6, "off", seq=4)
    scene.seqs[("alder", 17)] = 4
    scene.until(7.0)
    for number in range(1, 9):
        assert scene.news("restated") == []
        scene.state(8.0, number, "off")
    (change,) = scene.news("restated")
    assert (change.kind, change.t, change.first, change.last, change.n) == ("restated", 8.0, 2, 3, 10)


def test_a_gap_restated_before_it_is_overdue_is_said_to_be_both(scene: Scene) -> None:
    """The reports are lost all the same, and with them what they told of passings."""
    scene.report(1.0, 6, "on", seq=1)
    scene.report(2.0, 6, "off", seq=4)
    scene.seqs[("alder", 17)] = 4
    scene.state_all(3.0)
    assert scene.news("restated") == []
    scene.until(7.0)
    assert [(c.kind, c.t) for c in scene.news("gap_overdue", "restated")] == [("gap_overdue", 7.0), ("restated", 7.0)]


def test_an_alive_one_higher_than_received_proves_a_loss(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=1)
    scene.alive(3.0, seq=2)
    assert [(c.kind, c.first, c.last, c.n) for c in scene.news("gap")] == [("gap", 2, 2, 2)]


def test_numbers_before_the_first_heard_of_a_later_boot_are_a_gap(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=40)
    scene.report(9.0, 6, "on", boot=18, seq=3, ms=100)
    assert [(c.boot, c.first, c.last) for c in scene.news("gap")] == [(18, 1, 2)]
