"""Whose name is spoken on which port: moves, swaps, and two boards of one name, told as they are heard."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bridge.links.serial_names import MOST_HELD, PROOF_S, QUIET_S, SETTLE_S, Names
from bridge.wire.encode import encode
from bridge.wire.lines import Alive
from bridge.wire.records import Closed, Opened, Received, Record, Rejected

A, B, C = "serial-A", "serial-B", "serial-C"


def alive(board: str = "alder", boot: int = 17, seq: int = 0) -> Alive:
    return Alive(board, boot, seq, 1000)


def refused(t: float, link: str, line: Alive) -> Rejected:
    return Rejected(t, link, "same-name", encode(line)[:-1])


def two_ports() -> Names:
    names = Names()
    assert names.opened(0.0, A) == [Opened(0.0, A)]
    assert names.opened(0.0, B) == [Opened(0.0, B)]
    return names


def clashed() -> Names:
    """Proved at 2 s: A, then B, then A again."""
    names = two_ports()
    assert names.heard(1.0, A, alive()) == [Received(1.0, A, alive())]
    assert names.heard(1.5, B, alive(boot=3)) == []
    said = names.heard(2.0, A, alive())
    assert said == [Closed(2.0, A), Closed(2.0, B), refused(2.0, B, alive(boot=3)), refused(2.0, A, alive())]
    return names


def test_a_board_is_written_to_where_it_was_last_heard() -> None:
    names = two_ports()
    assert names.home("alder") is None
    names.heard(1.0, A, alive())
    assert names.home("alder") == A
    assert names.closed(2.0, A) == [Closed(2.0, A)]
    assert names.home("alder") == A  # so that it can be asked as soon as its port is back
    names.opened(3.0, A)
    assert names.heard(4.0, A, alive()) == [Received(4.0, A, alive())]
    names.closed(5.0, A)
    names.forget(A)
    assert names.home("alder") is None


def test_a_board_whose_port_closed_is_believed_on_another_at_once() -> None:
    names = two_ports()
    names.heard(1.0, A, alive())
    names.closed(1.1, A)
    assert names.heard(1.2, B, alive()) == [Received(1.2, B, alive())]
    assert names.home("alder") == B


def test_what_a_board_says_on_another_port_is_held_until_its_first_closes() -> None:
    names = two_ports()
    names.heard(1.0, A, alive(seq=1))
    assert names.heard(1.2, B, alive(seq=2)) == [] == names.heard(1.3, B, alive(seq=3))
    assert names.home("alder") == A
    assert names.pass_time(2.0) == []
    said = names.closed(2.1, A)
    assert said == [Closed(2.1, A), Received(2.1, B, alive(seq=2)), Received(2.1, B, alive(seq=3))]
    assert names.home("alder") == B and names.shared == {}


def test_or_until_its_first_has_fallen_silent() -> None:
    names = two_ports()
    names.heard(1.0, A, alive(seq=1))
    names.heard(1.2, B, alive(seq=2))
    assert names.pass_time(1.0 + QUIET_S) == []
    assert names.pass_time(1.1 + QUIET_S) == [Received(1.1 + QUIET_S, B, alive(seq=2))]
    assert names.heard(6.0, B, alive(seq=3)) == [Received(6.0, B, alive(seq=3))]
    assert names.home("alder") == B


def test_a_moved_board_is_heard_again_before_it_counts_as_lost() -> None:
    """A board is lost after 6 s (common to core and contract); time is passed every second."""
    assert QUIET_S + 1.0 < 6.0


def test_two_boards_that_change_places_on_open_ports() -> None:
    names = two_ports()
    names.heard(1.0, A, alive())
    names.heard(1.0, B, alive("birch"))
    assert names.heard(2.0, A, alive("birch")) == []
    assert names.heard(2.1, B, alive()) == [Received(2.1, A, alive("birch")), Received(2.1, B, alive())]
    assert (names.home("alder"), names.home("birch")) == (B, A)
    assert names.shared == {}


def test_and_back_again_at_once() -> None:
    names = two_ports()
    for t, (one, other) in enumerate([("alder", "birch"), ("birch", "alder")] * 5):
        said = [*names.heard(float(t), A, alive(one)), *names.heard(float(t), B, alive(other))]
        assert said == [Received(t, A, alive(one)), Received(t, B, alive(other))]
    assert names.shared == {}


def test_two_of_one_name_are_both_shut_off() -> None:
    names = clashed()
    assert names.shared == {"alder": (A, B)}
    assert names.home("alder") is None
    assert names.heard(3.5, B, alive(boot=3)) == [refused(3.5, B, alive(boot=3))]
    assert names.heard(4.0, A, alive()) == [refused(4.0, A, alive())]
    assert names.pass_time(5.0) == []


def test_what_a_board_said_before_it_was_moved_may_be_read_later() -> None:
    """Two ports are read by two threads, and a busy machine may let the second go first."""
    names = two_ports()
    names.heard(1.0, A, alive(seq=1))
    assert names.heard(1.2, B, alive(seq=4)) == []
    for seq in (2, 3):
        assert names.heard(1.1 + PROOF_S, A, alive(seq=seq)) == [Received(1.1 + PROOF_S, A, alive(seq=seq))]
    assert names.heard(1.3 + PROOF_S, B, alive(seq=5)) == []
    said = names.closed(2.0, A)
    assert said == [Closed(2.0, A), Received(2.0, B, alive(seq=4)), Received(2.0, B, alive(seq=5))]


def test_a_third_port_changes_nothing_for_the_others() -> None:
    names = clashed()
    names.opened(2.0, C)
    assert names.heard(2.1, C, alive("birch")) == [Received(2.1, C, alive("birch"))]
    names.heard(2.2, C, alive())
    assert names.shared == {"alder": (A, B, C)}
    assert names.closed(2.3, C) == []  # it was closed to the railway when it took that name


def test_the_one_that_is_left_is_let_in_when_it_has_been_alone_for_a_while() -> None:
    names = clashed()
    assert names.closed(3.0, A) == []
    assert names.pass_time(3.0) == []
    assert names.heard(4.0, B, alive(boot=3)) == [refused(4.0, B, alive(boot=3))]
    assert names.pass_time(3.0 + SETTLE_S) == [Opened(3.0 + SETTLE_S, B)]
    assert names.shared == {} and names.home("alder") == B
    assert names.heard(6.0, B, alive(boot=3)) == [Received(6.0, B, alive(boot=3))]


def test_a_plug_that_is_wiggled_lets_nobody_in() -> None:
    names = clashed()
    for t in (3.0, 4.0, 5.0, 6.0):
        names.closed(t, A)
        assert names.pass_time(t) == []
        assert names.opened(t + 0.1, A) == [Opened(t + 0.1, A)]
        said = names.heard(t + 0.2, A, alive())
        assert said == [Closed(t + 0.2, A), refused(t + 0.2, A, alive())]
        assert names.heard(t + 0.3, B, alive(boot=3)) == [refused(t + 0.3, B, alive(boot=3))]
        assert names.pass_time(t + 0.5) == []


def test_one_that_gets_another_name_is_let_in_under_it_at_once_and_the_other_after_a_while() -> None:
    names = clashed()
    assert names.heard(3.0, B, alive("birch")) == [Opened(3.0, B), Received(3.0, B, alive("birch"))]
    assert names.pass_time(3.1) == []
    names.heard(4.0, A, alive())
    assert names.pass_time(5.2) == [Opened(5.2, A)]


def test_one_that_falls_silent_makes_room_for_the_other() -> None:
    names = clashed()
    for t in (4.0, 6.0, 8.0):
        names.heard(t, A, alive())
    assert names.pass_time(8.0) == [Opened(8.0, B)]  # its port is open, and whatever speaks there next is heard
    assert names.pass_time(8.0 + SETTLE_S) == [Opened(8.0 + SETTLE_S, A)]
    assert names.home("alder") == A
    assert names.heard(10.5, B, alive(boot=3)) == []  # and it begins anew
    said = names.heard(11.0, A, alive())
    assert said[:2] == [Closed(11.0, A), Closed(11.0, B)]


def test_both_silent_leave_nothing_behind() -> None:
    names = clashed()
    assert sorted(names.pass_time(10.0), key=lambda record: record.link) == [Opened(10.0, A), Opened(10.0, B)]
    assert names.pass_time(10.0 + SETTLE_S) == [] and names.shared == {}
    assert names.heard(13.0, B, alive(boot=3)) == [Received(13.0, B, alive(boot=3))]


def test_a_namesake_that_leaves_before_it_is_proved_has_never_counted() -> None:
    names = two_ports()
    names.heard(1.0, A, alive())
    names.heard(1.2, B, alive(boot=3))
    assert names.closed(1.4, B) == [Closed(1.4, B), refused(1.4, B, alive(boot=3))]
    assert names.heard(3.0, A, alive()) == [Received(3.0, A, alive())]


def test_what_is_held_is_bounded_and_none_of_it_is_lost_from_the_capture() -> None:
    names = two_ports()
    names.heard(1.0, A, alive())
    said = [names.heard(1.1, B, alive(seq=n)) for n in range(MOST_HELD + 2)]
    assert said[MOST_HELD:] == [[refused(1.1, B, alive(seq=n))] for n in (MOST_HELD, MOST_HELD + 1)]
    assert len(names.closed(1.2, A)) == 1 + MOST_HELD


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["heard"] * 6 + ["plug", "pass", "long"]), st.sampled_from([A, B, C]), st.sampled_from(["x", "y"])
    ),
    max_size=60,
)


@given(STEPS)
def test_whatever_happens_nothing_is_heard_on_a_closed_port_and_no_line_is_lost_or_doubled(steps) -> None:
    names, t, seq = Names(), 0.0, 0
    plugged: set[str] = set()
    sent: list[tuple[str, Alive]] = []
    journal: list[Record] = []
    for step, link, board in steps:
        t += 5.0 if step == "long" else 0.5
        if step == "plug":
            journal += (names.closed if link in plugged else names.opened)(t, link)
            plugged ^= {link}
        elif step == "heard" and link in plugged:
            seq += 1
            sent.append((link, alive(board, seq=seq)))
            journal += names.heard(t, *sent[-1])
        else:
            journal += names.pass_time(t)
    for link in sorted(plugged):
        journal += names.closed(t, link)
    is_open = dict.fromkeys((A, B, C), False)
    for record in journal:
        match record:
            case Opened(_, link):
                assert not is_open[link]
                is_open[link] = True
            case Closed(_, link):
                assert is_open[link]
                is_open[link] = False
            case Received(_, link, _):
                assert is_open[link]
    assert not any(is_open.values())
    came = [(record.link, encode(record.line)[:-1]) for record in journal if isinstance(record, Received)]
    came += [(record.link, record.raw) for record in journal if isinstance(record, Rejected)]
    assert sorted(came) == sorted((link, encode(line)[:-1]) for link, line in sent)
