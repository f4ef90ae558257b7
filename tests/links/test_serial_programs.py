"""Another program on a port: which one it is, what it does to the lines, and what is said of that."""

from __future__ import annotations

import subprocess
import sys
import termios
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import serial

from bridge.links import serial_device
from bridge.links.serial_device import holders, why_not_open
from bridge.wire.lines import Alive, Hello
from bridge.wire.records import Closed, Opened

from ..waiting import wait_for
from .conftest import QUICK
from .live import lines_of

HELLO = Hello("alder", 17, 1204, 10)
HOLDS = """
import fcntl, os, sys
handle = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY)
if "alone" in sys.argv:
    fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
print("open", flush=True)
if "reads" in sys.argv:
    while True:
        os.read(handle, 1)
sys.stdin.read()
"""
pytestmark = pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="what others hold is told by /proc")


@pytest.fixture
def program(tmp_path) -> Iterator[Callable[..., subprocess.Popen]]:
    """`program("monitor.py", path, "alone")`: another program that has a port open; `reads` takes bytes away from others."""
    running: list[subprocess.Popen] = []

    def start(name: str, *words: str) -> subprocess.Popen:
        script = tmp_path / name
        script.write_text(HOLDS)
        command = [sys.executable, str(script), *words]
        running.append(subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE))
        assert running[-1].stdout is not None and running[-1].stdout.readline() == b"open\n"
        return running[-1]

    yield start
    for process in running:
        process.kill()
        process.communicate()


def test_a_port_that_another_program_keeps_for_itself_names_it_with_the_remedy(inbox, plug, link_to, program) -> None:
    board = plug("ttyA")
    other = program("monitor.py", str(board.path), "alone")
    link = link_to(board)
    said = f"{board.path} is in use by another program: monitor.py (process {other.pid}). Close it there."
    wait_for(lambda: link.troubles() == (said,))
    other.kill()
    other.wait()
    inbox.wait(lambda: inbox.of(Opened))
    assert link.troubles() == ()


def test_a_second_numbertaker_is_called_so(plug, program) -> None:
    board = plug("ttyA")
    other = program("numbertaker", str(board.path), "alone")
    (found,) = holders(str(board.path))
    assert found == f"numbertaker {board.path} (process {other.pid})"  # the word behind it is the command: `run`


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["/usr/bin/picocom", "-b", "115200", "/dev/ttyUSB0"], "picocom"),
        (["python3", "/home/ann/.environment/bin/numbertaker", "run", "oxlip"], "numbertaker run"),
        (["/opt/bin/python3.11", "-u", "-m", "serial.tools.miniterm", "/dev/ttyUSB0"], "serial.tools.miniterm"),
        (["python3", "-c", "import serial"], "python3"),
        (["python3"], "python3"),
        ([], ""),
    ],
)
def test_what_a_person_calls_a_program(words, name) -> None:
    assert serial_device._name(words) == name


def test_a_program_that_reads_along_is_found_by_what_it_takes(inbox, plug, link_to, program) -> None:
    """Two programs wait for the same bytes: who comes second finds none, and pyserial raises."""
    board = plug("ttyA")
    link = link_to(board)
    inbox.wait(lambda: inbox.of(Opened))
    board.say(HELLO)
    inbox.wait(lambda: lines_of(inbox))
    other = program("monitor.py", str(board.path), "reads")
    said = f"monitor.py (process {other.pid}) also reads from {board.path}, so lines are lost to it."

    def is_said() -> bool:
        board.say(Alive("alder", 17, 0, 2000))
        return any(trouble.startswith(said) for trouble in link.troubles())

    wait_for(is_said, 20)
    assert "Close it there" in link.troubles()[0]
    inbox.wait(lambda: inbox.of(Closed))


class EmptyRead:
    """A port whose reads come to nothing, as pyserial words it: with two readers, and when a device goes."""

    in_waiting = 0

    def read(self, _size: int) -> bytes:
        raise serial.SerialException(
            "device reports readiness to read but returned no data (device disconnected or multiple access on port?)"
        )

    def write(self, data: bytes) -> int:
        return len(data)

    def close(self) -> None:
        pass


def test_a_second_sign_is_a_proof_where_nobody_is_seen(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    link = link_to(board, open_port=lambda _path: EmptyRead())
    wait_for(lambda: any("Another program also reads from" in trouble for trouble in link.troubles()))


def test_a_device_that_goes_again_and_again_is_not_taken_for_another_program(inbox, plug, link_to) -> None:
    board = plug("ttyA")
    opened = []

    def open_while_there(path: str) -> EmptyRead:
        opened.append(path)
        if len(opened) % 2 == 0:
            raise serial.SerialException(2, "gone")
        return EmptyRead()

    link = link_to(board.path.with_name("ttyB"), open_port=open_while_there)
    inbox.wait(lambda: inbox.count(Closed) >= 4)
    assert not any("also reads" in trouble for trouble in link.troubles())


def test_a_port_on_which_another_program_hears_the_board_is_not_given_up_as_empty(inbox, plug, link_to, program) -> None:
    board = plug("ttyUSB3")
    program("monitor.py", str(board.path))
    link = link_to(listed=lambda: [str(board.path)], patience=replace(QUICK, foreign_after_s=0.2))
    wait_for(lambda: any("monitor.py" in trouble for trouble in link.troubles()))
    assert inbox.of(Closed) == []
    board.say(HELLO)
    inbox.wait(lambda: lines_of(inbox) == [HELLO])


def test_holders_of_what_is_not_there_or_not_held(plug) -> None:
    assert holders("/dev/nowhere") == ()
    assert holders(str(plug("ttyA").path)) == ()


def test_an_error_without_a_number_is_told_as_it_is() -> None:
    assert "could not be opened ((25, 'no tty'))" in why_not_open("/dev/x", termios.error(25, "no tty"))
