"""Every sentence of the contracts on ports: what is known of boards when one opens, closes, or brings what is no line."""

from __future__ import annotations

from collections.abc import Callable

from .conftest import Scene


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
