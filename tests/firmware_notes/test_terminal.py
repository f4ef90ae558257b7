"""The chip in real time, its line on a pseudo-terminal: a host opens it as it would open a cable."""

from __future__ import annotations

import subprocess
import time
from collections.abc import Iterator

import pytest
from serial import Serial

from bridge.links.serial_port import open_port
from bridge.wire.encode import encode
from bridge.wire.lines import Alive, Ask, BoardLine, State
from bridge.wire.parser import BoardParser

from .conftest import MakeChip

pytestmark = pytest.mark.wires
LONGEST_S = 30


def heard(port: Serial) -> Iterator[BoardLine]:
    """Every line that comes, each a good one."""
    parser, until = BoardParser(), time.monotonic() + LONGEST_S
    while time.monotonic() < until:
        for line in parser.feed(port.read(port.in_waiting or 1)):
            assert isinstance(line, BoardLine), line
            yield line


def test_a_host_opens_the_port_asks_and_is_answered(make_chip: MakeChip) -> None:
    chip = make_chip()
    command = [chip.program, chip.elf, chip.eeprom, "pty"]
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
    ) as run:
        assert run.stdin is not None
        assert run.stdout is not None
        path = run.stdout.readline().split()[1]
        run.stdin.write("pace 1\n")
        run.stdin.flush()
        began_s = time.monotonic()
        assert run.stdout.readline() == "at 0\n"
        with open_port(path) as port:
            lines = heard(port)
            alive = next(
                line for line in lines if isinstance(line, Alive)
            )  # its hello may have gone before the port was open
            assert alive.ms <= (time.monotonic() - began_s) * 1000, "it is never ahead of real time"
            port.write(encode(Ask()))
            states = []
            while len(states) < 4:
                line = next(lines)
                if isinstance(line, State):
                    states.append(line)
            assert [(line.input, line.value) for line in states] == [(1, "off"), (2, "off"), (3, "off"), (9, "off")]
        run.stdin.write("quit\n")
        run.stdin.flush()
        assert run.wait(10) == 0
