"""Ports that do not open, or are none: said in plain words, tried again, and no harm to any other."""

from __future__ import annotations

import errno
import threading
from pathlib import Path

import pytest
import serial

from bridge.links.serial_port import open_port
from bridge.wire.lines import Hello
from bridge.wire.records import Opened

from ..waiting import wait_for
from .live import lines_of

HELLO = Hello("alder", 17, 1204, 10)


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (serial.SerialException(errno.ENOENT, "x"), "is not there"),
        (OSError(errno.ENODEV, "x"), "is not there"),
        (OSError(errno.ENXIO, "x"), "is not there"),
        (PermissionError(errno.EACCES, "x"), "dialout"),
        (PermissionError(errno.EPERM, "x"), "dialout"),
        (OSError(errno.EBUSY, "x"), "in use"),
        (serial.SerialException(errno.EAGAIN, "x"), "in use"),
        (OSError(errno.EMFILE, "x"), "too many files"),
        (OSError(errno.EIO, "input/output error"), "input/output error"),
        (ValueError("no such protocol"), "no such protocol"),
        (RuntimeError("a driver's own"), "a driver's own"),
    ],
    ids=lambda value: str(getattr(value, "args", "")),
)
def test_what_keeps_a_port_from_opening_is_put_into_words_and_tried_again(inbox, plug, link_to, error, words) -> None:
    board = plug("ttyA")
    may_open = threading.Event()

    def open_or_refuse(path: str) -> serial.Serial:
        if may_open.is_set():
            return open_port(path)
        raise error

    link = link_to(board, open_port=open_or_refuse)
    wait_for(lambda: any(words in trouble and str(board.path) in trouble for trouble in link.troubles()))
    may_open.set()
    inbox.wait(lambda: inbox.of(Opened))
    assert link.troubles() == ()


@pytest.mark.parametrize("path", ["/dev/null", "/", "loop", "\0", "nonsense://x"])
def test_a_path_that_is_no_port_at_all_is_said_and_harms_no_other(inbox, plug, link_to, tmp_path, path) -> None:
    if path == "loop":
        path = str(tmp_path / "loop")
        Path(path).symlink_to(path)
    board = plug("ttyA")
    link = link_to(path, board)
    board.say(HELLO)
    wait_for(lambda: any(path in trouble for trouble in link.troubles()))
    inbox.wait(lambda: inbox.of(Opened))
    board.say(HELLO)
    inbox.wait(lambda: HELLO in lines_of(inbox))


def test_a_list_of_ports_that_fails_in_an_odd_way_does_not_end_the_search(inbox, plug, link_to) -> None:
    board = plug("ttyUSB9")
    asked = []

    def listed() -> list[str]:
        asked.append(None)
        if len(asked) < 3:
            raise ValueError("no number")
        return [str(board.path)]

    link_to(listed=listed)
    inbox.wait(lambda: inbox.of(Opened))
