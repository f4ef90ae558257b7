"""A board numbers, keeps, and answers as the board lines have it."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bridge.virtual.board import RING, Board
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Ask, Hello, Report, State, Watch
from bridge.wire.parser import parse_board_line


def board(started_ms: int = 5000, drift_ppm: float = 0.0) -> Board:
    made = Board("mill", (1, 2, 9), 7, started_ms, drift_ppm)
    made.awake = True
    return made


def test_answers_ask_with_hello_and_every_input() -> None:
    one = board()
    one.levels[9] = "tag=04AB12CD34"
    hello, *states = one.answer(1.0, Ask())
    assert isinstance(hello, Hello)
    assert (hello.boot, hello.inputs, hello.ms) == (7, 9, 6000)
    assert [(s.seq, s.input, s.value) for s in states if isinstance(s, State)] == [
        (1, 1, "off"),
        (2, 2, "off"),
        (3, 9, "tag=04AB12CD34"),
    ]


def test_keeps_the_last_and_sends_them_again_as_they_were() -> None:
    one = board()
    said = [one.report(n * 0.1, 1, "on" if n % 2 else "off") for n in range(40)]
    assert one.answer(9.0, Again(7, 1, 0)) == said[-RING:]
    assert one.answer(9.0, Again(7, 39, 40)) == said[38:]
    assert one.answer(9.0, Again(6, 1, 0)) == []
    assert dict(one.hello(9.0).extra)["min"] == str(40 - RING + 1)


def test_a_state_asked_for_again_is_how_the_input_stands_now() -> None:
    one = board()
    first = one.state(1.0, 1)
    one.levels[1] = "on"
    (again,) = one.answer(3.0, Again(7, 1, 1))
    assert again == State("mill", 7, first.seq, 8000, 1, "on")


def test_a_forgotten_report_is_not_sent_again() -> None:
    one = board()
    lost, kept = one.report(1.0, 1, "on"), one.report(2.0, 1, "off")
    one.forget(lost.seq)
    assert one.answer(3.0, Again(7, 1, 0)) == [kept]


def test_a_new_boot_counts_anew_and_keeps_nothing() -> None:
    one = board()
    one.report(1.0, 1, "on")
    one.restart(10.0)
    (hello,) = one.start(10.0, "watchdog")
    assert isinstance(hello, Hello)
    assert (hello.boot, hello.ms) == (8, 0)
    assert dict(hello.extra)["reset"] == "watchdog"
    assert one.report(10.5, 1, "off") == Report("mill", 8, 1, 500, 1, "off")
    assert one.answer(11.0, Again(7, 1, 0)) == []


def test_a_silent_board_answers_nothing() -> None:
    one = board()
    one.awake = False
    assert one.answer(1.0, Ask()) == []


def test_edges_only_while_watched_and_for_a_minute_at_most() -> None:
    one = board()
    assert one.edge(1.0, 1, True) is None
    one.answer(1.0, Watch(1, 600))
    assert one.edge(60.9, 1, True) is not None
    assert one.edge(60.9, 2, True) is None
    assert one.edge(61.1, 1, True) is None


@given(st.integers(0, 2**32 - 1), st.floats(-20_000, 20_000), st.floats(0, 10_000))
def test_its_clock_drifts_and_wraps_within_32_bits(started: int, drift: float, t_s: float) -> None:
    one = board(started, drift)
    assert 0 <= one.ms(t_s) < 2**32
    for line in (*one.answer(t_s, Ask()), one.alive(t_s), one.report(t_s, 2, "on")):
        assert parse_board_line(encode(line).rstrip(b"\n")) == line
