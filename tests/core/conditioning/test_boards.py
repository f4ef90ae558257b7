"""Every sentence of the contracts on boards and links: heard, lost, back, started again, and numbers missing."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Scene = Any


@pytest.fixture
def strict(make: Callable[..., Scene]) -> Scene:
    """Boards are lost after 6 s, reports after 5, as the contract has it."""
    scene = make(limits={})
    scene.alive(0.0)
    scene.alive(0.0, board="birch")
    scene.changes.clear()
    return scene


# --- heard, lost, back


def test_a_board_is_heard_once(scene: Scene) -> None:
    scene.hello(1.0)
    scene.alive(2.0)
    assert [(c.kind, c.board, c.t, c.n) for c in scene.changes] == [("heard", "alder", 1.0, 1)]
    board = scene.core.boards["alder"]
    assert (board.heard, board.link, board.boot, board.last_t, board.inputs) == (True, "port-alder", 17, 2.0, 10)
    assert board.told == {"fw": "1.0"}


def test_no_line_from_a_board_for_6_s_its_detectors_are_unknown(strict: Scene) -> None:
    strict.report(1.0, 1, "on")
    strict.report(1.0, 6, "on")
    strict.until(6.9)
    assert strict.news("lost")[0].board == "birch"
    strict.until(7.0)
    change = strict.news("lost")[1]
    assert (change.board, change.t, change.since_t, change.why, change.n) == ("alder", 7.0, 1.0, "silent", 4)
    assert [(o.t, o.state, o.n) for o in strict.observations if o.detector == "dock"][-1] == (7.0, "unknown", 4)
    assert strict.word("points") == "unknown"
    board = strict.core.boards["alder"]
    assert (board.lost, board.lost_since) == (True, 1.0)


@pytest.mark.parametrize("sign", ["alive", "edge", "repeat", "unknown"])
def test_any_line_is_a_sign_of_life(strict: Scene, sign: str) -> None:
    strict.report(1.0, 6, "on", seq=1)
    for t in (5.0, 9.0, 13.0):
        match sign:
            case "alive":
                strict.alive(t)
            case "edge":
                strict.edge(t, 1, "on")
            case "repeat":
                strict.report(t, 6, "on", seq=1, ms=1000)
            case _:
                strict.report(t, 99, "on")
    assert "alder" not in [c.board for c in strict.news("lost")]


def test_edges_are_no_observations(strict: Scene) -> None:
    assert strict.edge(1.0, 1, "on").observations == ()


def test_a_board_that_was_heard_is_lost_before_begin_too(strict: Scene) -> None:
    strict.until(6.0)
    assert [c.board for c in strict.news("lost")] == ["alder", "birch"]


def test_a_board_of_the_folder_not_heard_6_s_after_begin(make: Callable[..., Scene]) -> None:
    scene = make(limits={})
    scene.until(100.0)
    assert scene.changes == []
    scene.core.begin(100.0)
    scene.alive(101.0)
    scene.alive(105.0)
    scene.until(106.0)
    (change,) = scene.news("lost")
    assert (change.board, change.t, change.since_t, change.why, change.n) == ("birch", 106.0, 100.0, "never heard", None)


def test_a_lost_board_is_back_with_its_next_line_and_unknown_until_its_state_or_a_report(strict: Scene) -> None:
    strict.report(0.5, 1, "on")
    strict.until(6.5)
    strict.alive(60.0)
    (change,) = strict.news("back")
    assert (change.board, change.t, change.since_t) == ("alder", 60.0, 0.5)
    assert strict.word("dock") == "unknown"
    strict.state(60.1, 1, "on")
    strict.report(60.2, 6, "on")
    assert (strict.word("dock"), strict.word("points"), strict.word("bridge")) == ("occupied", "on", "unknown")


def test_limits_of_the_folder_hold(make: Callable[..., Scene]) -> None:
    scene = make(limits={"board_lost_after": 20.0, "reports_lost_after": 2.0})
    scene.report(0.0, 6, "on", seq=1)
    scene.report(1.0, 6, "off", seq=3)
    scene.until(100.0)
    assert [(c.kind, c.t) for c in scene.news("gap_overdue", "lost")] == [("gap_overdue", 3.0), ("lost", 21.0)]


# --- link topics


def test_link_down_says_lost_at_once(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.down(2.0)
    (change,) = scene.news("lost")
    assert (change.t, change.since_t, change.why, change.n) == (2.0, 1.0, "link down", 2)
    assert scene.told("dock") == [(1.0, "occupied"), (2.0, "unknown")]


def test_link_down_holds_until_the_next_line_a_late_will_cannot_silence_a_live_board(scene: Scene) -> None:
    scene.alive(1.0)
    scene.down(2.0)
    scene.up(2.5)
    assert scene.news("back") == []
    scene.alive(3.0)
    assert [c.t for c in scene.news("back")] == [3.0]


def test_link_up_alone_is_no_line(make: Callable[..., Scene]) -> None:
    """Its topic may be retained from the evening before, or its lines be refused by the broker."""
    scene = make(limits={}, boards={"alder": "mqtt", "birch": "mqtt"})
    scene.up(0.5)
    scene.core.begin(1.0)
    scene.until(7.0)
    assert [(c.board, c.why) for c in scene.news("lost")] == [("alder", "never heard"), ("birch", "never heard")]


# --- adapters


def test_an_adapters_reading_is_as_a_report_and_its_board_unnumbered(scene: Scene) -> None:
    (seen,) = scene.read(1.0, 1, "on").observations
    assert (seen.state, seen.moves, seen.happened_t) == ("occupied", True, 1.0)
    assert scene.core.boards["alder"].unnumbered
    assert [c.kind for c in scene.changes] == ["heard"]


def test_an_adapters_board_is_lost_by_its_conventions_own_word(make: Callable[..., Scene]) -> None:
    scene = make(limits={}, boards={"alder": "mqtt", "birch": "mqtt"})
    scene.read(1.0, 1, "on")
    scene.until(500.0)
    assert scene.news("lost") == []
    scene.down(500.0)
    scene.up(510.0)
    assert [(c.kind, c.t) for c in scene.news("lost", "back")] == [("lost", 500.0), ("back", 510.0)]
    assert scene.word("dock") == "unknown"


def test_an_adapters_board_is_lost_when_its_link_has_been_closed_for_as_long(make: Callable[..., Scene]) -> None:
    scene = make(limits={}, boards={"alder": "mqtt", "birch": "mqtt"})
    scene.read(1.0, 1, "on")
    scene.closed(100.0, "mqtt")
    scene.until(106.0)
    assert [(c.t, c.why) for c in scene.news("lost")] == [(106.0, "broker lost")]
    scene.read(200.0, 1, "on")
    assert [c.t for c in scene.news("back")] == [200.0]


def test_an_adapters_reading_in_time_keeps_its_board(make: Callable[..., Scene]) -> None:
    scene = make(limits={}, boards={"alder": "mqtt", "birch": "mqtt"})
    scene.read(1.0, 1, "on")
    scene.closed(100.0, "mqtt")
    scene.read(103.0, 1, "on")
    scene.until(900.0)
    assert scene.news("lost") == []


def test_a_board_of_which_both_lines_and_readings_come_is_missed_as_one_with_lines(make: Callable[..., Scene]) -> None:
    scene = make(limits={})
    scene.alive(1.0)
    scene.until(10.0)
    scene.read(20.0, 1, "on")
    scene.until(100.0)
    assert [(c.kind, c.t) for c in scene.news("lost", "back")] == [("lost", 7.0), ("back", 20.0), ("lost", 26.0)]


# --- ports


def test_closed_the_inputs_of_its_boards_are_unknown_at_once_and_board_lost_still_follows(strict: Scene) -> None:
    strict.report(1.0, 1, "on")
    strict.report(1.0, 1, "on", board="birch")
    strict.closed(2.0)
    assert (strict.word("dock"), strict.word("line")) == ("unknown", "occupied")
    assert strict.observations[-1].n == 5
    assert strict.news("lost") == []
    strict.alive(6.0, board="birch")
    strict.until(7.0)
    assert [(c.board, c.t, c.why) for c in strict.news("lost")] == [("alder", 7.0, "port closed")]


def test_an_off_under_way_is_forgotten_when_the_port_closes(scene: Scene) -> None:
    scene.report(1.0, 1, "on")
    scene.report(2.0, 1, "off")
    scene.closed(2.5)
    scene.until(60.0)
    assert scene.told("dock") == [(1.0, "occupied"), (2.5, "unknown")]


def test_everything_from_an_opened_port_is_unknown_until_hello_has_come(scene: Scene) -> None:
    scene.opened(0.1)
    scene.report(0.2, 1, "on")
    scene.report(0.2, 6, "on")
    assert (scene.word("dock"), scene.word("points")) == ("unknown", "unknown")
    scene.hello(0.5)
    assert (scene.word("dock"), scene.word("points")) == ("occupied", "on")
    assert [(o.t, o.moves) for o in scene.observations] == [(0.5, True), (0.5, True)]


def test_opening_a_port_again_makes_what_was_known_unknown(scene: Scene) -> None:
    scene.opened(0.1)
    scene.hello(0.2)
    scene.report(1.0, 1, "on")
    scene.opened(2.0)
    scene.report(2.1, 6, "on")
    assert (scene.word("dock"), scene.word("points")) == ("unknown", "unknown")
    scene.hello(2.5)
    assert scene.word("points") == "on"
    assert scene.word("dock") == "unknown"
    scene.state(2.6, 1, "on")
    assert scene.word("dock") == "occupied"


def test_passings_sent_again_before_hello_are_kept(scene: Scene) -> None:
    """After a reconnect the host sends again, then ask: what was missed comes before the hello."""
    scene.opened(0.1)
    scene.hello(0.2)
    scene.closed(1.0)
    scene.opened(4.0)
    scene.report(4.1, 3, "tag=04A1", ms=2000)
    scene.report(4.1, 5, "on", ms=2500)
    assert [(o.detector, o.happened_t, o.moves) for o in scene.observations] == [
        ("mouth", 2.0, True),
        ("engines", 2.5, True),
    ]


def test_a_hello_that_was_damaged_does_not_leave_a_board_unknown_for_ever(scene: Scene) -> None:
    scene.opened(0.1)
    for number in range(1, 8):
        scene.state(0.2, number, "off")
    assert scene.word("points") == "unknown"
    scene.state(0.3, 8, "off")
    assert scene.word("points") == "off"


def test_a_board_that_waits_is_known_again_where_another_link_brings_it(scene: Scene) -> None:
    scene.opened(0.1)
    scene.report(0.2, 6, "on")
    scene.report(0.3, 7, "on", link="another")
    assert (scene.word("points"), scene.word("bridge")) == ("on", "proved")


def test_a_broker_waits_for_no_hello(make: Callable[..., Scene]) -> None:
    scene = make(boards={"alder": "mqtt", "birch": "mqtt"})
    scene.opened(0.1, "mqtt")
    scene.report(0.2, 1, "on", link="mqtt")
    assert scene.word("dock") == "occupied"


def test_a_board_that_moves_to_another_port_is_closed_with_that_one(scene: Scene) -> None:
    scene.report(1.0, 1, "on", link="one")
    scene.report(2.0, 6, "on", link="two")
    scene.closed(3.0, "one")
    assert scene.word("dock") == "occupied"
    scene.closed(4.0, "two")
    assert scene.word("dock") == "unknown"


def test_rejected_bytes_are_counted_against_the_link(scene: Scene) -> None:
    scene.alive(1.0)
    scene.rejected(2.0)
    scene.rejected(3.0)
    scene.rejected(3.0, "elsewhere")
    assert scene.core.links["port-alder"].rejected == {"bad-sum": 2}
    assert scene.core.links["elsewhere"].rejected == {"bad-sum": 1}
    assert (scene.core.boards["alder"].rejected, scene.core.boards["birch"].rejected) == (2, 0)


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


# --- numbers missing


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


# --- boards that the folder does not name


def test_a_board_that_the_folder_does_not_name_is_remembered_and_observed_nothing(scene: Scene) -> None:
    scene.boots["fern"] = 3
    for t in (1.0, 2.0):
        assert scene.report(t, 1, "on", board="fern").observations == ()
    scene.read(3.0, 1, "on", board="gorse")
    assert [(c.kind, c.board) for c in scene.changes] == [("stranger", "fern"), ("stranger", "gorse")]
    assert scene.core.strangers["fern"].last_t == 2.0
    assert "fern" not in scene.core.boards


def test_strangers_links_and_odd_inputs_are_bounded(scene: Scene) -> None:
    for n in range(300):
        scene.boots[f"x{n}"] = 1
        scene.alive(1.0, board=f"x{n}")
        scene.report(1.0, 100 + n, "on")
        scene.opened(1.0, f"link{n}")
    assert (len(scene.core.strangers), len(scene.core.links), len(scene.core.boards["alder"].odd_inputs)) == (64, 66, 32)


def test_link_words_of_strangers_are_ignored(scene: Scene) -> None:
    scene.up(1.0, "fern")
    scene.down(1.0, "fern")
    assert scene.changes == []


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


def test_the_boards_clock_is_judged_anew_after_a_start(scene: Scene) -> None:
    """After a restart the host's seconds go on by the difference of wall clocks, which may be wrong by minutes."""
    scene.report(100.0, 5, "on")
    scene.host(101.0, started=False)
    scene.host(200.0, started=True)
    (seen,) = scene.report(201.0, 5, "on", ms=120_000).observations
    assert seen.happened_t == 201.0
    (seen,) = scene.report(203.0, 5, "on", ms=121_000).observations
    assert seen.happened_t == 202.0


def test_a_port_that_was_open_before_the_start_keeps_nobody_waiting(scene: Scene) -> None:
    scene.opened(0.1)
    scene.report(0.2, 6, "on")
    scene.host(1.0, started=False)
    scene.host(2.0, started=True)
    scene.state(3.0, 6, "on")
    assert scene.word("points") == "on"
