"""Every sentence of the contracts on boards: heard, lost and back, by links and adapters; boards that the folder does not
name."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .conftest import Scene

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
