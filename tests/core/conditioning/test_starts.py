"""Every sentence of the contracts on starts: a board that has started again, and the service that stops and starts."""

from __future__ import annotations

from collections.abc import Callable

from .conftest import Scene

# --- a new boot


def test_a_new_boot_makes_the_boards_inputs_unknown_until_their_state_or_a_report_has_come(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(1.0, 6, "on")
    scene.hello(9.0, boot=18, ms=900)
    (change,) = scene.news("new_boot")
    assert (change.board, change.boot, change.n) == ("alder", 18, 3)
    assert (scene.word("dock"), scene.word("points")) == ("unknown", "unknown")
    scene.state(9.1, 1, "on", ms=1000)
    assert (scene.word("dock"), scene.word("points")) == ("occupied", "unknown")


def test_a_new_boot_known_by_a_report_lets_that_report_count(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    said = scene.report(9.0, 6, "on", boot=18, ms=900)
    assert [(o.detector, o.state) for o in said.observations] == [("dock", "unknown"), ("points", "on")]


def test_the_order_of_an_old_boots_lines_does_not_bind_a_new_one(scene: Scene) -> None:
    scene.report(500.0, 6, "on")
    scene.hello(501.0, boot=18, ms=100)
    scene.report(501.2, 7, "on", seq=3, ms=300)
    scene.state(501.3, 6, "off", seq=2, ms=400)
    assert scene.word("points") == "off"


def test_the_first_boot_is_no_new_one(scene: Scene) -> None:
    scene.hello(1.0)
    assert scene.news("new_boot") == []


def test_a_start_under_the_same_number_is_a_new_boot(scene: Scene) -> None:
    scene.report(60.0, 1, "on")
    scene.hello(70.0, ms=500)
    assert [c.boot for c in scene.news("new_boot")] == [17]
    assert scene.word("dock") == "unknown"
    scene.seqs.clear()
    scene.report(71.0, 6, "on", ms=1500)
    assert (scene.word("points"), scene.observations[-1].happened_t) == ("on", 71.0)


def test_lines_of_a_boot_that_is_over_are_late_evidence_and_no_state(scene: Scene) -> None:
    scene.report(1.0, 6, "on", seq=1)
    scene.hello(9.0, boot=18, ms=500)
    scene.state(9.1, 6, "on", ms=600)
    said = scene.report(9.2, 6, "off", boot=17, seq=3, ms=5000)
    assert (said.observations, [late.happened_t for late in said.late]) == ((), [5.0])
    assert scene.state(9.3, 6, "off", boot=17, seq=4, ms=6000).observations == ()
    assert scene.report(9.4, 1, "off", boot=17, seq=5, ms=6000).observations == ()
    assert scene.word("points") == "on"


# --- the service stops and starts


def test_earlier_observations_are_stale_when_the_service_starts(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(1.0, 6, "on")
    scene.host(2.0, started=False)
    scene.host(900.0, started=True)
    assert (scene.word("dock"), scene.word("points")) == ("unknown", "unknown")
    assert [(o.t, o.n, o.state) for o in scene.observations[-2:]] == [(900.0, 4, "unknown")] * 2
    scene.state(901.0, 1, "on")
    assert scene.word("dock") == "occupied"


def test_between_the_two_no_deadline_fires_and_those_of_real_time_count_anew(strict: Scene) -> None:
    strict.report(1.0, 1, "on", seq=1)
    strict.report(2.0, 1, "off", seq=3)
    strict.host(2.5, started=False)
    assert strict.core.due() is None
    assert strict.core.pass_deadline(500.0).changes == ()
    strict.host(1000.0, started=True)
    strict.until(1004.9)
    assert strict.news("gap_overdue", "lost") == []
    strict.until(1006.0)
    assert [(c.kind, c.board, c.t) for c in strict.news("gap_overdue", "lost")] == [
        ("gap_overdue", "alder", 1005.0),
        ("lost", "alder", 1006.0),
        ("lost", "birch", 1006.0),
    ]
    assert strict.told("dock") == [(1.0, "occupied"), (1000.0, "unknown")]


def test_a_board_never_heard_is_missed_anew_after_a_start(make: Callable[..., Scene]) -> None:
    scene = make(limits={})
    scene.core.begin(1.0)
    scene.host(2.0, started=False)
    scene.host(1000.0, started=True)
    scene.until(1006.0)
    assert [(c.board, c.t) for c in scene.news("lost")] == [("alder", 1006.0), ("birch", 1006.0)]


def test_an_adapters_board_whose_link_was_closed_is_missed_anew_after_a_start(make: Callable[..., Scene]) -> None:
    scene = make(limits={}, boards={"alder": "mqtt", "birch": "mqtt"})
    scene.read(1.0, 1, "on")
    scene.closed(2.0, "mqtt")
    scene.host(3.0, started=False)
    scene.host(1000.0, started=True)
    assert scene.core.due() == 1006.0
    scene.until(1006.0)
    assert [(c.board, c.t) for c in scene.news("lost")] == [("alder", 1006.0)]


def test_the_boards_clock_is_judged_anew_by_its_hello_after_a_start(scene: Scene) -> None:
    """After a restart the host's seconds go on by the difference of wall clocks, which may be wrong by minutes."""
    scene.report(100.0, 5, "on")
    scene.host(101.0, started=False)
    scene.host(200.0, started=True)
    scene.hello(200.5, ms=119_500)
    (seen,) = scene.report(201.0, 5, "on", ms=120_000).observations
    assert seen.happened_t == 201.0
    (seen,) = scene.report(203.0, 5, "on", ms=121_000).observations
    assert seen.happened_t == 202.0


def test_what_a_broker_kept_while_the_service_was_down_happened_when_its_board_says(scene: Scene) -> None:
    scene.report(100.0, 5, "on")
    scene.host(101.0, started=False)
    scene.host(200.0, started=True)
    (seen,) = scene.report(200.1, 5, "on", ms=100_900).observations
    assert (seen.t, seen.happened_t) == (200.1, 100.9)
    scene.hello(200.2, ms=200_200)
    (seen,) = scene.report(201.0, 5, "on", ms=201_000).observations
    assert seen.happened_t == 201.0


def test_a_port_that_was_open_before_the_start_keeps_nobody_waiting(scene: Scene) -> None:
    scene.opened(0.1)
    scene.report(0.2, 6, "on")
    scene.host(1.0, started=False)
    scene.host(2.0, started=True)
    scene.state(3.0, 6, "on")
    assert scene.word("points") == "on"


def test_the_time_in_which_the_service_was_down_delays_nothing(scene: Scene) -> None:
    """A report that it kept out for longer than any wire would is put where it happened."""
    for t in range(10):
        scene.alive(float(t))
    scene.host(10.0, started=False)
    scene.host(20.0, started=True)
    late = scene.report(20.1, 6, "on", ms=9_500).late
    assert [(row.t, row.happened_t, row.whole) for row in late] == [(20.1, 9.5, True)]
    assert scene.report(20.2, 6, "off", ms=2_000).late == ()
