"""Serial ports on pseudo-terminals: boards that come, go, reset and babble, and devices that are none."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable

from bridge.links.serial_port import link_name, open_port
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Alive, Ask, Hello, Report
from bridge.wire.records import Closed, Opened, Received, Rejected

from ..waiting import wait_for
from .conftest import QUICK
from .live import lines_of

HELLO = Hello("alder", 17, 1204, 10)


def test_a_named_port_is_opened_asked_and_read(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    link = link_to(board)
    board.wait_heard(encode(Ask()))
    board.say(HELLO, Report("alder", 17, 1, 1300, 3, "on"))
    inbox.wait(lambda: len(lines_of(inbox)) == 2)
    assert isinstance(inbox.records[0], Opened)
    assert lines_of(inbox) == [HELLO, Report("alder", 17, 1, 1300, 3, "on")]
    assert {record.link for record in inbox.records} == {"serial-ttyA"}
    assert all(record.t == round(record.t, 6) for record in inbox.records)
    assert link.send("alder", Again(17, 1, 0))
    board.wait_heard(encode(Again(17, 1, 0)))
    assert not link.send("birch", Ask())
    assert link.troubles() == ()


def test_rubbish_first_is_rejected_and_the_rest_read(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    link_to(board)
    board.wait_heard(encode(Ask()))
    board.say_bytes(b"\x00\xf8\xff\x80 boot noise\r\n" + b"U" * 400 + b"\n")
    board.say(HELLO)
    inbox.wait(lambda: lines_of(inbox) == [HELLO])
    assert [record.reason for record in inbox.of(Rejected)] == ["not-ascii", "too-long"]


def test_a_board_that_resets_in_the_middle_of_a_line(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    link_to(board)
    board.wait_heard(encode(Ask()))
    board.say(HELLO)
    board.say_bytes(encode(Alive("alder", 17, 4, 5000))[:14] + encode(Hello("alder", 18, 20, 10)))
    board.say(Alive("alder", 18, 0, 2020))
    inbox.wait(lambda: Alive("alder", 18, 0, 2020) in lines_of(inbox))
    assert [record.reason for record in inbox.of(Rejected)] == ["bad-sum"]
    assert inbox.of(Closed) == []


def test_unplugged_and_plugged_in_again(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    link = link_to(board)
    board.wait_heard(encode(Ask()))
    board.say(HELLO)
    board.say_bytes(b"report alder 17 1 13")
    inbox.wait(lambda: lines_of(inbox))
    board.unplug()
    inbox.wait(lambda: inbox.of(Closed))
    assert not link.send("alder", Ask())
    wait_for(lambda: any("is not there" in trouble for trouble in link.troubles()))
    board.plug_in()
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    assert link.troubles() == ()
    assert link.send("alder", Again(17, 1, 0)) and link.send("alder", Ask())
    board.wait_heard(encode(Again(17, 1, 0)) + encode(Ask()))
    board.say(Report("alder", 17, 1, 1300, 3, "on"))
    inbox.wait(lambda: len(lines_of(inbox)) == 2)
    kinds = [type(record) for record in inbox.records]
    assert kinds == [Opened, Received, Rejected, Closed, Opened, Received]  # the cut line is kept, as rejected


def test_another_device_under_the_same_name_is_another_opening(inbox, plug, link_to) -> None:
    first, second = plug("ttyA"), plug("ttyB")
    port = first.path.with_name("by-id")
    port.symlink_to(first.path)
    link_to(port)
    inbox.wait(lambda: inbox.of(Opened))
    first.say(HELLO)
    inbox.wait(lambda: lines_of(inbox))
    port.unlink()
    port.symlink_to(second.path)
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    second.say(Hello("birch", 3, 50, 4))
    inbox.wait(lambda: Hello("birch", 3, 50, 4) in lines_of(inbox))
    assert len(inbox.of(Closed)) == 1


def test_two_boards_that_swap_ports_are_told_apart(inbox, plug, link_to) -> None:
    one, other = plug("ttyA"), plug("ttyB")
    link = link_to(one, other)
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    one.say(HELLO)
    other.say(Hello("birch", 3, 50, 4))
    inbox.wait(lambda: len(lines_of(inbox)) == 2)
    assert link.send("birch", Ask())
    other.wait_heard(encode(Ask()))
    one.say(Alive("birch", 3, 0, 90))
    other.say(Alive("alder", 17, 0, 1500))
    inbox.wait(lambda: len(lines_of(inbox)) == 4)
    one.heard()
    assert link.send("birch", Again(3, 1, 0))
    one.wait_heard(encode(Again(3, 1, 0)))


def test_a_listed_board_is_not_written_to_before_it_speaks(inbox, plug, link_to) -> None:
    board = plug("ttyUSB7")
    link = link_to(listed=lambda: [str(board.path)])
    inbox.wait(lambda: inbox.of(Opened))
    board.say(Alive("alder", 17, 0, 2000))
    inbox.wait(lambda: lines_of(inbox))
    assert board.heard() == b""
    assert link.send("alder", Ask())
    board.wait_heard(encode(Ask()))


def test_a_device_that_is_no_board_is_left_alone_until_it_returns(inbox, plug, link_to) -> None:
    device = plug("ttyUSB8")
    listed = [str(device.path)]
    link = link_to(listed=lambda: list(listed))
    inbox.wait(lambda: inbox.of(Opened))
    device.say_bytes(b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n")
    inbox.wait(lambda: inbox.of(Closed))
    assert device.heard() == b""
    assert [record.reason for record in inbox.of(Rejected)] == ["bad-sum"]
    assert "left alone" in link.troubles()[0]
    time.sleep(10 * QUICK.longest_retry_s)  # that nothing happens can only be waited for
    assert len(inbox.of(Opened)) == 1
    listed.clear()
    wait_for(lambda: link.troubles() == ())
    listed.append(str(device.path))
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    device.say(HELLO)
    inbox.wait(lambda: lines_of(inbox) == [HELLO])


def test_a_named_port_without_a_board_stays_open_and_says_so(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    link = link_to(board)
    wait_for(lambda: any("no board speaks there" in trouble for trouble in link.troubles()))
    assert inbox.of(Closed) == []
    board.say(HELLO)
    inbox.wait(lambda: lines_of(inbox))
    assert link.troubles() == ()


def test_a_named_port_is_not_opened_a_second_time_under_its_other_name(inbox, plug, link_to) -> None:
    board, other = plug("by-id-alder"), plug("ttyB")
    link_to(board, listed=lambda: [str(board.path.resolve()), str(other.path)])
    inbox.wait(lambda: len(inbox.of(Opened)) == 2)
    assert {record.link for record in inbox.records} == {"serial-by-id-alder", "serial-ttyB"}


def test_a_port_that_was_found_before_its_name_came_is_no_trouble(inbox, plug, link_to) -> None:
    board = plug("ttyUSB6")
    name = board.path.with_name("by-id-late")
    link = link_to(name, listed=lambda: [str(board.path)])
    inbox.wait(lambda: inbox.of(Opened))
    name.symlink_to(board.path)
    board.say(HELLO)
    inbox.wait(lambda: lines_of(inbox))
    wait_for(lambda: link.troubles() == ())
    time.sleep(5 * QUICK.longest_retry_s)  # that it stays so can only be waited for
    assert link.troubles() == ()
    assert inbox.of(Closed) == []


def test_a_port_in_use_is_named_with_the_remedy(plug, link_to) -> None:
    board = plug("ttyA")
    with open_port(str(board.path)):
        link = link_to(board)
        wait_for(lambda: any("in use by another program" in trouble for trouble in link.troubles()))
    wait_for(lambda: link.troubles() == ())


def test_a_list_that_fails_does_not_end_the_hunt(inbox, plug, link_to) -> None:
    board = plug("ttyUSB9")
    answers: list[Callable[[], list[str]]] = [lambda: [str(board.path)], lambda: (_ for _ in ()).throw(OSError("gone"))]

    def listed() -> list[str]:
        answers.reverse()
        return answers[0]()

    link_to(listed=listed)
    inbox.wait(lambda: inbox.of(Opened))
    board.say(HELLO)
    inbox.wait(lambda: lines_of(inbox))
    assert len(inbox.of(Opened)) == 1


def test_nothing_arrives_after_stop(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    link = link_to(board)
    inbox.wait(lambda: inbox.of(Opened))
    link.stop()
    arrived = len(inbox.arrivals)
    board.say(HELLO)
    assert len(inbox.arrivals) == arrived
    assert not link.send("alder", Ask())
    assert not [thread for thread in threading.enumerate() if thread.name == "serial-ttyA"]


def test_a_port_over_the_network(inbox, link_to) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = link_to(f"socket://127.0.0.1:{server.getsockname()[1]}")
        board, _ = server.accept()
        with board:
            board.settimeout(5)
            assert board.recv(100) == encode(
                Ask()
            )  # only then is the port through with flushing, as pyserial does on opening
            board.sendall(encode(HELLO))
            inbox.wait(lambda: lines_of(inbox) == [HELLO])
            assert link.send("alder", Again(17, 1, 0))
            assert board.recv(100) == encode(Again(17, 1, 0))
        inbox.wait(lambda: inbox.of(Closed))
        server.accept()[0].close()


def test_names_of_ports() -> None:
    assert link_name("/dev/ttyUSB0", []) == "serial-ttyUSB0"
    assert link_name("COM3", []) == "serial-COM3"
    assert link_name("/dev/serial/by-id/usb-1a86 USB Serial-if00", []) == "serial-usb-1a86-USB-Serial-if00"
    assert link_name("/tmp/b/ttyA", ["serial-ttyA", "serial-ttyA-2"]) == "serial-ttyA-3"
    assert link_name("socket://127.0.0.1:7000", []) == "serial-127.0.0.1:7000"
