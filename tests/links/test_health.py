"""What boards are asked for: after a return, after a new boot, and where a number is missing."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bridge.links.health import Health, Order
from bridge.wire.lines import Again, Alive, Ask, Edge, Hello, Report, State
from bridge.wire.records import (
    BoardDown,
    BoardUp,
    Closed,
    HostStarted,
    HostStopped,
    Opened,
    Received,
    Record,
    Rejected,
    Said,
)

PORT = "serial-ttyA"


def hello(boot: int = 17, board: str = "alder") -> Hello:
    return Hello(board, boot, 1000, 10)


def alive(seq: int, boot: int = 17, board: str = "alder") -> Alive:
    return Alive(board, boot, seq, 2000 + 100 * seq)


def report(seq: int, boot: int = 17, board: str = "alder") -> Report:
    return Report(board, boot, seq, 2000 + 100 * seq, 3, "on")


def state(seq: int, boot: int = 17, board: str = "alder") -> State:
    return State(board, boot, seq, 2000 + 100 * seq, 3, "on")


def tell(health: Health, t: float, *lines, link: str = PORT) -> list[Order]:
    return [order for line in lines for order in health.take(Received(t, link, line))]


def settled() -> Health:
    """A board that is heard, has said how its inputs stand, and has lost nothing; its last number is 2, at 2 s."""
    health = Health()
    assert health.take(Opened(0.0, PORT)) == []
    assert tell(health, 1.0, hello(), state(1), state(2)) == []
    assert tell(health, 2.0, alive(2)) == []
    assert health.due() is None
    return health


def test_a_hello_that_its_states_follow_is_left_alone() -> None:
    settled()


def test_a_hello_that_no_state_follows_is_asked_three_times() -> None:
    health = Health()
    assert tell(health, 1.0, hello()) == []
    asked = []
    while (due := health.due()) is not None:
        asked.append((due, health.wake(due)))
    assert asked == [(1.5, [("alder", Ask())]), (2.5, [("alder", Ask())]), (3.5, [("alder", Ask())])]


def test_a_board_first_heard_in_the_middle_is_asked_at_once() -> None:
    for line in (alive(40), report(41), state(42)):
        assert tell(Health(), 1.0, line) == [("alder", Ask())]


def test_an_undebounced_edge_asks_for_nothing() -> None:
    assert tell(settled(), 3.0, Edge("alder", 17, 5, 3, "on")) == []


def test_a_gap_is_asked_for_at_once_and_thrice_in_all() -> None:
    health = settled()
    assert tell(health, 3.0, report(5)) == [("alder", Again(17, 3, 4))]
    assert tell(health, 3.1, report(6)) == []
    assert health.due() == 4.0
    assert health.wake(4.0) == [("alder", Again(17, 3, 4))]
    assert health.wake(4.5) == []
    assert tell(health, 4.6, report(3)) == []
    assert health.wake(5.0) == [("alder", Again(17, 4, 4))]
    assert health.due() is None
    assert health.wake(6.0) == []


def test_a_gap_that_is_filled_is_asked_for_no_more() -> None:
    health = settled()
    assert tell(health, 3.0, alive(3)) == [("alder", Again(17, 3, 3))]
    assert tell(health, 3.1, report(3)) == []
    assert health.wake(4.0) == []
    assert health.due() is None


def test_two_gaps_are_asked_for_in_one_line() -> None:
    health = settled()
    assert tell(health, 3.0, report(4)) == [("alder", Again(17, 3, 3))]
    assert tell(health, 3.5, report(6)) == [("alder", Again(17, 5, 5))]
    assert health.wake(4.6) == [("alder", Again(17, 3, 5))]


def test_a_port_that_was_opened_again_is_asked_for_what_it_holds_then_for_its_inputs() -> None:
    health = settled()
    health.take(Closed(3.0, PORT))
    assert health.take(Opened(5.0, PORT)) == [("alder", Again(17, 3, 0)), ("alder", Ask())]
    assert tell(health, 5.1, hello(), report(3), state(4)) == []
    assert tell(health, 5.2, alive(4)) == []
    assert health.due() is None


def test_a_gap_from_before_the_loss_is_asked_for_too() -> None:
    health = settled()
    tell(health, 3.0, report(5))
    health.take(Closed(3.5, PORT))
    assert health.due() is None
    assert health.wake(9.0) == []
    assert health.take(Opened(9.5, PORT)) == [("alder", Again(17, 3, 0)), ("alder", Ask())]


def test_what_a_return_proves_missing_is_on_its_way_already() -> None:
    health = settled()
    health.take(Closed(3.0, PORT))
    health.take(Opened(5.0, PORT))
    assert tell(health, 5.1, alive(6)) == []
    assert tell(health, 5.2, report(3), report(4), report(5), report(6), state(7)) == []
    assert health.wake(6.1) == []
    assert health.due() is None


def test_a_return_that_is_not_answered_is_tried_again() -> None:
    health = settled()
    health.take(Closed(3.0, PORT))
    health.take(Opened(5.0, PORT))
    assert tell(health, 5.5, alive(4)) == []
    assert health.due() == 6.0
    assert health.wake(6.0) == [("alder", Again(17, 3, 4)), ("alder", Ask())]


def test_a_port_that_opens_twice_on_end_is_asked_twice() -> None:
    health = settled()
    for t in (3.0, 3.4):
        health.take(Closed(t, PORT))
        assert health.take(Opened(t + 0.2, PORT)) == [("alder", Again(17, 3, 0)), ("alder", Ask())]


def test_a_board_found_again_on_another_port() -> None:
    health = settled()
    health.take(Closed(3.0, PORT))
    assert health.take(Opened(5.0, "serial-ttyB")) == []
    assert tell(health, 5.1, alive(2), link="serial-ttyB") == [("alder", Again(17, 3, 0)), ("alder", Ask())]
    assert tell(health, 5.2, hello(), state(3), link="serial-ttyB") == []
    assert health.take(Opened(6.0, PORT)) == []


def test_a_board_that_was_silent_for_longer_than_counts_as_lost() -> None:
    health = settled()
    assert tell(health, 8.0, alive(2)) == []
    assert tell(health, 14.1, alive(2)) == [("alder", Again(17, 3, 0)), ("alder", Ask())]
    patient = Health(lost_after_s=20.0)
    tell(patient, 1.0, hello(), state(1))
    assert tell(patient, 14.0, alive(1)) == []


def test_a_new_boot_is_asked_for_its_inputs() -> None:
    health = settled()
    assert tell(health, 3.0, alive(0, boot=18)) == [("alder", Ask())]
    health = settled()
    assert tell(health, 3.0, hello(boot=18)) == []
    assert health.wake(3.5) == [("alder", Ask())]


def test_numbers_before_the_first_heard_of_a_later_boot_are_a_gap() -> None:
    health = settled()
    assert tell(health, 3.0, report(3, boot=18)) == [("alder", Again(18, 1, 2)), ("alder", Ask())]


def test_a_new_boot_ends_the_asking_for_the_old_one() -> None:
    health = settled()
    tell(health, 3.0, report(5))
    tell(health, 3.5, hello(boot=18), state(1, boot=18))
    assert health.wake(4.0) == []
    assert health.due() is None


def test_a_board_s_link_topic() -> None:
    health = Health()
    assert health.take(BoardUp(1.0, "mqtt", "birch")) == [("birch", Ask())]
    assert tell(health, 1.1, hello(board="birch"), state(1, board="birch"), link="mqtt") == []
    assert health.take(BoardDown(5.0, "mqtt", "birch")) == []
    assert health.take(BoardUp(9.0, "mqtt", "birch")) == [("birch", Again(17, 2, 0)), ("birch", Ask())]
    health.take(BoardDown(10.0, "mqtt", "birch"))
    assert tell(health, 12.0, alive(1, board="birch"), link="mqtt") == [("birch", Again(17, 2, 0)), ("birch", Ask())]
    assert health.take(BoardDown(13.0, "mqtt", "nobody")) == []


def test_a_broker_that_comes_back_with_stored_links_is_asked_once() -> None:
    health = Health()
    tell(health, 1.0, hello(board="birch"), state(1, board="birch"), link="mqtt")
    health.take(Closed(3.0, "mqtt"))
    assert health.take(Opened(5.0, "mqtt")) == [("birch", Again(17, 2, 0)), ("birch", Ask())]
    assert health.take(BoardUp(5.0, "mqtt", "birch")) == []


def test_after_a_restart_the_boots_of_the_journal_are_known() -> None:
    health = Health()
    for record in (Opened(0.0, PORT), Received(1.0, PORT, hello()), Received(1.1, PORT, state(1)), HostStopped(2.0)):
        health.take(record)
    assert health.take(HostStarted(9.0)) == []
    assert health.due() is None
    assert health.take(Opened(9.1, PORT)) == [("alder", Again(17, 2, 0)), ("alder", Ask())]


def test_boards_do_not_mix() -> None:
    health = settled()
    assert tell(health, 3.0, hello(board="birch"), state(1, board="birch"), link="mqtt") == []
    health.take(Closed(4.0, "mqtt"))
    assert health.take(Opened(4.5, "mqtt")) == [("birch", Again(17, 2, 0)), ("birch", Ask())]
    assert tell(health, 4.6, report(4)) == [("alder", Again(17, 3, 3))]


def test_what_says_nothing_of_a_board_asks_for_nothing() -> None:
    health = settled()
    assert health.take(Rejected(3.0, PORT, "bad-sum", b"x")) == []
    assert health.take(Said(3.0, None, "begin 19:00")) == []


lines = st.one_of(
    st.builds(hello, st.integers(1, 2)),
    st.builds(alive, st.integers(0, 12), st.integers(1, 2)),
    st.builds(report, st.integers(1, 12), st.integers(1, 2)),
    st.builds(state, st.integers(1, 12), st.integers(1, 2)),
)
events = st.one_of(
    lines.map(lambda line: Received(0.0, PORT, line)),
    st.sampled_from([Opened(0.0, PORT), Closed(0.0, PORT), BoardUp(0.0, PORT, "alder"), BoardDown(0.0, PORT, "alder")]),
)


@given(st.lists(st.tuples(st.floats(0, 3), events), max_size=40))
def test_whatever_comes_the_asking_is_bounded_and_ends(script: list[tuple[float, Record]]) -> None:
    health, t, sent = Health(), 0.0, []
    for wait, record in script:
        t = round(t + wait, 6)
        while (due := health.due()) is not None and due <= t:
            sent += health.wake(due)
        sent += health.take(type(record)(t, *(getattr(record, name) for name in record.__slots__[1:])))
    for _ in range(3 * len(script) + 3):
        due = health.due()
        if due is None:
            break
        sent += health.wake(due)
    assert health.due() is None
    assert len(sent) <= 8 * len(script)
    assert all(isinstance(line, Ask) or (line.first >= 1 and line.boot in (1, 2)) for _, line in sent)


def test_a_board_that_speaks_on_another_link_is_asked_there_at_once() -> None:
    """Whether its first port has closed, and it was asked there in vain, or is still open."""
    for closes in (False, True):
        health = settled()
        t = 3.0
        if closes:
            health.take(Closed(2.5, PORT))
            assert health.take(Opened(2.6, PORT)) == [("alder", Again(17, 3, 0)), ("alder", Ask())]
            t = 2.7
        assert tell(health, t, report(3), link="serial-ttyB") == [("alder", Again(17, 4, 0)), ("alder", Ask())]
        assert tell(health, t + 0.1, hello(), state(4), state(5), link="serial-ttyB") == []
        assert health.due() is None


def test_a_board_that_was_not_there_yet_when_it_was_asked_is_asked_again() -> None:
    health = settled()
    health.take(Closed(2.5, PORT))
    assert len(health.take(Opened(3.0, PORT))) == 2
    assert (health.wake(4.0), health.wake(5.0)) == ([("alder", Ask())], [("alder", Ask())])
    assert health.due() is None
    assert tell(health, 5.5, alive(2)) == []  # its answer may be on its way
    assert health.due() == 6.0
    assert health.wake(6.0) == [("alder", Ask())]
