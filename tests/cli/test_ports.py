"""`numbertaker ports`: what is plugged in, who speaks there, and what to check where nobody does; on pseudo-terminals."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.cli.ports import NO_PORT, shown
from bridge.links import serial_survey
from bridge.links.serial_port import open_port
from bridge.links.serial_survey import Device, PortSeen

from ..links.conftest import PtyBoard
from ..links.live import LiveBoard
from ..waiting import wait_for

SHORT = ["--seconds", "1"]


@pytest.fixture
def plug(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., PtyBoard]]:
    """`plug("ttyUSB0", usb="1A86:7523")`: a device that the system lists; without `usb` it is listed as no USB port."""
    wires: list[PtyBoard] = []
    listed: list[Device] = []
    monkeypatch.setattr(serial_survey.survey, "__defaults__", (lambda: listed,))

    def make(name: str, usb: str | None = None, is_listed: bool = True) -> PtyBoard:
        wires.append(PtyBoard(tmp_path / name))
        wires[-1].plug_in()
        if is_listed:
            listed.append(Device(str(wires[-1].path), "USB Serial" if usb else "n/a", usb))
        return wires[-1]

    yield make
    for wire in wires:
        wire.cut()


@pytest.fixture
def speak() -> Iterator[Callable[..., LiveBoard]]:
    """`speak("alder", wire)`: a board that is switched on there."""
    boards: list[LiveBoard] = []

    def make(name: str, wire: PtyBoard, **how) -> LiveBoard:
        boards.append(LiveBoard(name, **how))
        boards[-1].start(wire)
        return boards[-1]

    yield make
    for board in boards:
        board.stop()


def told(capsys, *words: str) -> tuple[int, list[dict]]:
    status = main(["ports", "--json", *SHORT, *words])
    return status, [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_boards_are_named_with_their_ports(plug, speak, capsys) -> None:
    one, other = plug("ttyUSB0", "1A86:7523"), plug("ttyUSB1", "2341:0043")
    speak("alder", one, boot=17, inputs=10)
    speak("birch", other, boot=3, inputs=4)
    assert main(["ports", *SHORT]) == 0
    out, err = capsys.readouterr()
    blocks = out.split(str(other.path))
    assert blocks[0].startswith(f"{one.path}  USB Serial (USB 1A86:7523)\n    board alder, boot 17, 10 inputs: ")
    assert "(USB 2341:0043)\n    board birch, boot 3, 4 inputs: " in blocks[1]
    assert err == "Listening for 1 s.\n"


def test_the_same_for_programs(plug, speak, capsys) -> None:
    wire = plug("ttyUSB0", "1A86:7523")
    wire.say_bytes(b"\n")
    board = speak("alder", wire, boot=17, inputs=10)
    noisy = threading.Timer(0.4, wire.say_bytes, [b"\x00\xff boot noise\n"])
    noisy.start()
    status, (port,) = told(capsys)
    noisy.join()
    (heard,) = port.pop("boards")
    assert (status, heard["board"], heard["boot"], heard["inputs"]) == (0, "alder", 17, 10)
    assert heard["lines"] > 10
    assert port == {
        "port": str(wire.path),
        "description": "USB Serial",
        "usb": "1A86:7523",
        "named": False,
        "opened": True,
        "held_by": [],
        "rejected": {"not-ascii": 1},
        "trouble": None,
    }
    assert len(board.asked) == 1  # as it had not told its inputs, and once


def test_nothing_is_written_to_a_device_that_is_no_board(plug, capsys) -> None:
    device = plug("ttyUSB0", "067B:2303")
    said = threading.Timer(0.4, device.say_bytes, [b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n"])
    said.start()
    assert main(["ports", *SHORT]) == 1
    said.join()
    assert device.heard() == b""
    out = capsys.readouterr().out
    assert "1 piece rejected: 1 bad-sum" in out
    assert "no board speaks there, only something else" in out


def test_a_silent_port_is_told_with_what_to_check(plug, capsys) -> None:
    plug("ttyUSB0", "067B:2303")
    assert main(["ports", *SHORT]) == 1
    assert "open, but nothing came in 1 s. -> Is the board's program on it" in capsys.readouterr().out


def test_a_port_that_is_no_usb_is_opened_only_where_it_is_named(plug, speak, capsys) -> None:
    console, wire = plug("ttyS0"), plug("ttyAMA0", is_listed=False)
    speak("alder", wire)
    status, (named, other) = told(capsys, "--port", str(wire.path))
    assert (status, named["port"], named["named"], named["boards"][0]["board"]) == (0, str(wire.path), True, "alder")
    assert (other["port"], other["opened"], other["trouble"]) == (str(console.path), False, None)


def test_a_port_that_was_not_opened_says_why() -> None:
    said = shown(PortSeen(Device("/dev/ttyS0", "ttyS0"), False), 5.0)
    assert said == "/dev/ttyS0  ttyS0\n    not opened, as it is not USB; if a board is there: --port /dev/ttyS0"


def test_a_listed_port_that_is_named_by_another_path_is_one_port(plug, speak, capsys) -> None:
    wire = plug("ttyUSB0", "1A86:7523")
    speak("alder", wire)
    name = wire.path.with_name("by-id")
    name.symlink_to(wire.path)
    status, (port,) = told(capsys, "--port", str(name))
    assert (status, port["port"], port["usb"], port["named"]) == (0, str(name), "1A86:7523", True)


def test_a_named_port_without_a_board_is_a_fault_beside_one_that_has_one(plug, speak, capsys) -> None:
    wire, empty = plug("ttyUSB0", "1A86:7523"), plug("ttyX", is_listed=False)
    speak("alder", wire)
    assert told(capsys, "--port", str(empty.path))[0] == 1
    assert empty.heard() != b""  # it was named, so it was asked


def test_a_port_that_is_not_there(plug, speak, capsys, tmp_path) -> None:
    speak("alder", plug("ttyUSB0", "1A86:7523"))
    assert main(["ports", *SHORT, "--port", str(tmp_path / "ttyZ")]) == 1
    assert f"{tmp_path / 'ttyZ'} is not there. Plug the board in" in capsys.readouterr().out


def test_a_port_that_another_program_has_open(plug, capsys) -> None:
    wire = plug("ttyUSB0", "1A86:7523")
    with open_port(str(wire.path)):
        assert main(["ports", *SHORT]) == 1
    assert "is in use by another program" in capsys.readouterr().out


HOLDS = """
import fcntl, os, sys
handle = os.open(sys.argv[2], os.O_RDWR | os.O_NOCTTY)
fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
print("open", flush=True)
sys.stdin.read()
"""


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="what others hold is told by /proc")
def test_a_port_of_a_running_session_is_left_to_it_and_no_fault(plug, tmp_path, capsys) -> None:
    wire = plug("ttyUSB0", "1A86:7523")
    script = tmp_path / "numbertaker"
    script.write_text(HOLDS)
    command = [sys.executable, str(script), "run", os.fspath(wire.path)]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as session:
        assert session.stdout is not None and session.stdout.readline() == b"open\n"
        assert main(["ports", *SHORT]) == 0
        said = f"in use by numbertaker run (process {session.pid}), which listens there: look at its page"
        assert said in capsys.readouterr().out
        session.kill()


def test_two_boards_of_one_name_are_both_shown_and_said(plug, speak, capsys) -> None:
    one, other = plug("ttyUSB0", "1A86:7523"), plug("ttyUSB1", "1A86:7523")
    speak("alder", one, boot=17)
    speak("alder", other, boot=3)
    assert main(["ports", *SHORT]) == 1
    out, err = capsys.readouterr()
    assert "board alder, boot 17" in out and "board alder, boot 3" in out
    assert f"Two boards call themselves alder, on {one.path} and {other.path}" in err


def test_no_port_at_all_is_told_with_what_to_check(plug, capsys) -> None:
    assert main(["ports", "--seconds", "0.01"]) == 1
    assert capsys.readouterr().out == NO_PORT + "\n"
    assert told(capsys, "--seconds", "0.01") == (1, [])


@pytest.mark.parametrize("words", [["--seconds", "0"], ["--seconds", "soon"], ["--seconds", "nan"], ["--seconds", "1e9"]])
def test_a_time_that_is_none(words, capsys) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["ports", *words])
    assert ended.value.code == 2
    assert "is no time to listen" in capsys.readouterr().err


def test_the_systems_own_list_is_read() -> None:
    """Whatever is plugged in here: each has a path, and a USB port its numbers."""
    for device in serial_survey.devices():
        assert device.path
        assert device.usb is None or len(device.usb) == 9


def test_a_list_that_fails_is_an_empty_one(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail() -> list:
        raise OSError("gone")

    monkeypatch.setattr(serial_survey.list_ports, "comports", fail)
    assert serial_survey.devices() == []


def test_ports_that_stay_open_are_let_go(plug, speak, capsys) -> None:
    wire = plug("ttyUSB0", "1A86:7523")
    speak("alder", wire)
    assert told(capsys)[0] == 0
    wait_for(lambda: not [thread for thread in threading.enumerate() if thread.name.startswith("serial")])
    open_port(str(wire.path)).close()
