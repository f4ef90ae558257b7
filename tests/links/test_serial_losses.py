"""Every way in which a port goes, on pseudo-terminals: noticed within 1 s, open again within 2 s of its return, for ever."""

from __future__ import annotations

import errno
import os
import threading
import time
from dataclasses import replace

import pytest
import serial

from bridge.links.serial_port import Patience, open_port
from bridge.wire.lines import Alive, Ask, Hello
from bridge.wire.records import Closed, Opened

from ..waiting import wait_for
from .conftest import QUICK
from .live import handles_open, lines_of

HELLO = Hello("alder", 17, 1204, 10)
NOTICED_S = 1.0
REOPENED_S = 2.0


def test_in_earnest_a_loss_is_noticed_within_one_second_and_a_return_within_two(inbox, plug, link_to) -> None:
    """The two promises, with the waits of a real evening; the worst case, that the port returns just after a try."""
    board = plug("ttyA")
    link = link_to(board, patience=Patience())
    inbox.wait(lambda: inbox.of(Opened))
    for cycle in range(1, 4):
        board.unplug()
        inbox.wait(lambda cycle=cycle: len(inbox.of(Closed)) == cycle, NOTICED_S)
        wait_for(link.troubles)
        board.plug_in()
        inbox.wait(lambda cycle=cycle: len(inbox.of(Opened)) == cycle + 1, REOPENED_S)


def test_in_earnest_the_same_of_a_port_that_is_found_by_itself(inbox, plug, link_to, tmp_path) -> None:
    board = plug("ttyUSB7")
    looks = []

    def listed() -> list[str]:
        looks.append(None)
        return [str(path) for path in tmp_path.glob("ttyUSB*")]

    link_to(listed=listed, patience=Patience())
    inbox.wait(lambda: inbox.of(Opened))
    board.say(HELLO)
    board.unplug()
    inbox.wait(lambda: inbox.of(Closed), NOTICED_S)
    seen = len(looks)
    wait_for(lambda: len(looks) >= seen + 2)  # a whole look without it: it is dropped, as is one that stays away
    board.plug_in()
    inbox.wait(lambda: len(inbox.of(Opened)) == 2, REOPENED_S)


def test_a_thousand_losses_leave_no_handle_and_no_thread_behind(inbox, plug, link_to) -> None:
    opened = []  # kept, so that nothing but the link itself can have closed them

    def open_and_keep(path: str) -> serial.Serial:
        opened.append(open_port(path))
        return opened[-1]

    board = plug("ttyA")
    link_to(board, open_port=open_and_keep, patience=replace(QUICK, first_retry_s=0.001, longest_retry_s=0.002))
    inbox.wait(lambda: inbox.of(Opened))
    handles, threads = handles_open(), threading.active_count()
    for cycle in range(1, 1001):
        board.unplug()
        inbox.wait(lambda cycle=cycle: inbox.count(Closed) == cycle)
        board.plug_in()
        inbox.wait(lambda cycle=cycle: inbox.count(Opened) == cycle + 1)
    assert len(opened) == 1001
    assert sum(handle.is_open for handle in opened) == 1
    assert handles_open() <= handles + 3  # other threads of this process come and go; a leak would be a thousand
    assert threading.active_count() <= threads + 3
    board.say(HELLO)
    inbox.wait(lambda: lines_of(inbox) == [HELLO])


def test_the_wire_goes_and_its_name_stays(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    link_to(board)
    inbox.wait(lambda: inbox.of(Opened))
    board.cut()
    inbox.wait(lambda: inbox.of(Closed), NOTICED_S)
    board.path.unlink()
    board.plug_in()
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)


@pytest.mark.parametrize("speaks", [True, False], ids=["while it speaks without a pause", "while it is silent"])
def test_the_name_goes_and_the_wire_stays(inbox, plug, link_to, speaks) -> None:
    board = plug("ttyA")
    link_to(board)
    inbox.wait(lambda: inbox.of(Opened))
    until_closed = threading.Event()

    def speak() -> None:
        while not until_closed.wait(0.02):
            board.say(Alive("alder", 17, 0, 2000))

    speaking = threading.Thread(target=speak)
    if speaks:
        speaking.start()
        inbox.wait(lambda: lines_of(inbox))
    device = board.path.readlink()
    board.path.unlink()
    try:
        inbox.wait(lambda: inbox.of(Closed), NOTICED_S)
    finally:
        until_closed.set()
    if speaks:
        speaking.join()
    board.path.symlink_to(device)
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)


def test_a_board_that_says_nothing_more_on_an_open_port_has_it_opened_anew(inbox, plug, link_to) -> None:
    """A driver that hangs shows no error: closing and opening it is all that helps, and resets many a board."""
    board, other = plug("ttyA"), plug("ttyB")
    link = link_to(board, other, patience=replace(QUICK, first_hang_s=0.5, longest_hang_s=1.0))
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    board.say(HELLO)
    inbox.wait(lambda: lines_of(inbox))
    inbox.wait(lambda: len(inbox.of(Closed)) == 2)
    closed = inbox.of(Closed)
    assert {record.link for record in closed} == {"serial-ttyA"}  # one on which no board has spoken is left as it is
    assert closed[1].t - closed[0].t > 1.9 * 0.5  # at growing intervals
    wait_for(lambda: any("alder says nothing there" in trouble for trouble in link.troubles()))
    inbox.wait(lambda: len(inbox.of(Opened)) == 4)
    board.say(HELLO)
    inbox.wait(lambda: len(lines_of(inbox)) == 2)
    assert not any("alder" in trouble for trouble in link.troubles())


def test_a_port_that_its_board_has_left_is_no_trouble(inbox, plug, link_to) -> None:
    old, new = plug("ttyA"), plug("ttyB")
    link = link_to(old, new, patience=replace(QUICK, first_hang_s=0.3, longest_hang_s=0.3, quiet_s=0.1))
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    old.say(HELLO)
    inbox.wait(lambda: lines_of(inbox))
    while len(lines_of(inbox)) == 1:
        new.say(Alive("alder", 17, 0, 2000))
        time.sleep(0.02)  # its pace
    until = time.monotonic() + 1.0
    while time.monotonic() < until:
        new.say(Alive("alder", 17, 0, 2000))
        time.sleep(0.02)
        assert link.troubles() == ()
    assert {record.link for record in inbox.of(Closed)} == {"serial-ttyA"}  # which is tried anew, in case it hangs


def test_a_board_that_speaks_as_it_should_is_never_cut_off(inbox, plug, link_to) -> None:
    """A minute of its usual pace, on a clock of its own so that a busy machine does not count as silence."""
    board, now = plug("ttyA"), [0.0]
    link_to(board, clock=lambda: now[0], patience=Patience())
    inbox.wait(lambda: inbox.of(Opened))
    for count in range(1, 31):
        now[0] += 2.0
        board.say(Alive("alder", 17, 0, 2000 * count))
        inbox.wait(lambda count=count: len(lines_of(inbox)) == count)
    assert inbox.of(Closed) == []
    now[0] += 2.0 + Patience().first_hang_s
    inbox.wait(lambda: inbox.of(Closed))


def test_a_write_that_nobody_takes_does_not_hold_up_whoever_sends(inbox, plug, link_to) -> None:
    stuck, board = plug("ttyA"), plug("ttyB")
    link = link_to(stuck, board)
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    stuck.say(HELLO)
    board.say(Hello("birch", 3, 50, 4))
    inbox.wait(lambda: len(lines_of(inbox)) == 2)
    filler = os.open(stuck.path, os.O_WRONLY | os.O_NONBLOCK | os.O_NOCTTY)
    with pytest.raises(BlockingIOError):
        while True:
            os.write(filler, b"x" * 512)  # until the wire holds no more, as where the device does not take it
    os.close(filler)
    until = time.monotonic() + 10.0
    longest_s = 0.0
    while inbox.of(Closed) == []:  # once two on end are not taken, it is lost
        assert time.monotonic() < until
        began = time.monotonic()
        link.send("alder", Ask())
        longest_s = max(longest_s, time.monotonic() - began)
    assert longest_s < NOTICED_S
    assert link.send("birch", Ask())
    assert [record.link for record in inbox.of(Closed)] == ["serial-ttyA"]
    inbox.wait(lambda: len(inbox.of(Opened)) == 3)


class BrokenPort:
    """A port whose driver does whatever it likes."""

    in_waiting = 0

    def __init__(self, error: Exception) -> None:
        self._error = error

    def read(self, _size: int) -> bytes:
        raise self._error

    write = close = reset_output_buffer = read


class UncountedPort(BrokenPort):
    """One that fails where it is asked what waits: there a lost pseudo-terminal raises a plain OSError."""

    @property
    def in_waiting(self) -> int:
        raise self._error


class EndedPort(BrokenPort):
    """One that has come to its end without saying so."""

    reads = 0

    def read(self, _size: int) -> bytes:
        EndedPort.reads += 1
        return b""


ERRORS = [
    serial.SerialException("gone"),
    OSError(errno.EIO, "gone"),
    TypeError("fd"),
    ValueError("odd"),
    AttributeError("NoneType"),
    KeyError(3),
    serial.SerialTimeoutException(),
]


@pytest.mark.parametrize("error", ERRORS, ids=lambda error: type(error).__name__)
@pytest.mark.parametrize("port", [BrokenPort, UncountedPort])
def test_whatever_a_driver_raises_it_is_tried_again(inbox, link_to, port, error) -> None:
    link = link_to("/dev/ttyX", open_port=lambda _path: port(error))
    inbox.wait(lambda: inbox.count(Opened) >= 3)
    assert inbox.count(Closed) >= 2
    assert not link.send("alder", Ask())


def test_reads_that_come_to_nothing_at_once_are_a_loss_and_no_endless_loop(inbox, link_to) -> None:
    EndedPort.reads = 0
    link_to("/dev/ttyX", open_port=lambda _path: EndedPort(OSError()))
    inbox.wait(lambda: inbox.of(Closed), NOTICED_S)
    inbox.wait(lambda: inbox.count(Closed) >= 5)
    assert EndedPort.reads <= 3 * (inbox.count(Opened) + 1)


def test_every_opening_has_its_loss_however_soon_the_port_is_dropped(inbox, plug, link_to, tmp_path) -> None:
    """A port that leaves the system's list is given up; that must not swallow the word that it is lost."""
    link_to(
        listed=lambda: [str(path) for path in tmp_path.glob("ttyUSB*")],
        patience=replace(QUICK, scan_s=0.0005, first_retry_s=0.0005, longest_retry_s=0.001),
    )
    board = plug("ttyUSB0")
    for cycle in range(1, 201):
        inbox.wait(lambda cycle=cycle: inbox.count(Opened) == cycle)
        board.unplug()
        inbox.wait(lambda cycle=cycle: inbox.count(Closed) == cycle)
        board.plug_in()
