"""Boards on ports that change: another name, two swapped, two of one name, one that resets on opening, one that floods.

Each board lives on a pseudo-terminal and answers; behind the link stands what asks boards, as in the service. What a board
has said is compared with what has come, so nothing is judged by the code under test.
"""

from __future__ import annotations

import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest

from bridge.core.conditioning import Conditioning
from bridge.core.events import Journalled
from bridge.folder import load
from bridge.wire.lines import Again, Ask, Hello
from bridge.wire.records import Closed, Opened, Received, Record, Rejected
from bridge.wire.withheld import rejects_withheld

from ..waiting import wait_for
from .live import ALIVE_S, BRISK, QUIET_S, Host, LiveBoard, begin, lines_of, missing_of, reasons_of

RAILWAY = Path(__file__).parent.parent / "recordings" / "railway"


def all_came(host: Host, *boards: LiveBoard) -> None:
    """Every report of these boards, as it was said, each under its own name."""
    for live in boards:
        host.wait(lambda live=live: host.came_of(live) == live.reports, 15)


def stands_unknown(records: list[Record], board: str) -> bool:
    """Whether for the core every input of a board is unknown behind these records."""
    railway = load(RAILWAY).railway
    assert railway is not None
    core = Conditioning(railway.plant)
    for n, record in enumerate(records, 1):
        while (due := core.due()) is not None and due <= record.t:
            core.pass_deadline(due)
        core.take(Journalled(n, record))
    states = {core.detectors[row.id].state for row in railway.plant.detectors.values() if row.board == board}
    assert states
    return states == {"unknown"}


def test_a_board_that_comes_back_under_another_name_is_asked_there_for_what_it_said_meanwhile(
    host, plug, link_to, board, tmp_path
) -> None:
    port, alder = plug("ttyUSB0"), board("alder")
    link = link_to(listed=lambda: sorted(map(str, tmp_path.glob("ttyUSB*"))), into=host, patience=BRISK)
    host.serve(link)
    begin(host, alder, port)
    alder.report(1, "on")
    all_came(host, alder)
    for number in range(1, 6):
        alder.on(None)
        port.unplug()
        alder.report(2, "on")
        alder.report(2, "off")  # while it is unplugged: it keeps its last 32
        host.wait(lambda number=number: host.count(Closed) == number)
        alder.asked.clear()
        port = plug(f"ttyUSB{number}")
        alder.on(port)
        all_came(host, alder)
        wait_for(lambda: any(isinstance(line, Ask) for line in alder.asked))
        again = next(line for line in alder.asked if isinstance(line, Again))
        assert again.last == 0 and again.first <= alder.reports[-2].seq
        assert host.records[-1].link == f"serial-ttyUSB{number}"
    assert link.troubles() == ()


@pytest.mark.parametrize("ports_close", [False, True], ids=["on open ports", "with the ports unplugged"])
def test_two_boards_swapped_while_they_run(host, plug, link_to, board, ports_close) -> None:
    ports = [plug("ttyA"), plug("ttyB")]
    boards = [board("alder", boot=17), board("birch", boot=17)]  # the same boot: only the name tells them apart
    link = link_to(*ports, into=host, patience=replace(BRISK, proof_s=0.5))
    host.serve(link)
    for live, port in zip(boards, ports, strict=True):
        begin(host, live, port)
    for turn in range(1, 7):
        for live in boards:
            live.report(1 + turn % 4, "on" if turn % 2 else "off")
        if turn == 1:
            all_came(host, *boards)
        for live in boards:
            live.on(None)
            live.report(1, "on")  # on the way
        if ports_close:
            for port in ports:
                port.unplug()
            host.wait(lambda turn=turn: host.count(Closed) == 2 * turn)
            for port in ports:
                port.plug_in()
        for live, port in zip(boards, reversed(ports) if turn % 2 else ports, strict=True):
            live.on(port)
        all_came(host, *boards)
    assert link.troubles() == ()
    assert not [record for record in host.of(Rejected) if record.reason == "same-name"]
    if not ports_close:
        assert host.of(Closed) == []
    wait_for(lambda: not missing_of(host, "alder") | missing_of(host, "birch"))
    for live in boards:
        live.asked.clear()
        assert link.send(live.board.name, Ask())
        wait_for(lambda live=live: live.asked)


def test_two_boards_of_one_name_are_shut_off_and_both_ports_named(host, plug, link_to, board) -> None:
    one_port, other_port, third_port = plug("ttyA"), plug("ttyB"), plug("ttyC")
    one, other, birch = board("yard", boot=17), board("yard", boot=3), board("birch", boot=5)
    link = link_to(one_port, other_port, third_port, into=host, patience=BRISK)
    host.serve(link)
    begin(host, one, one_port)
    begin(host, birch, third_port)
    one.report(1, "on")
    all_came(host, one)
    before = len(one.reports)
    other.start(other_port)
    host.wait(lambda: host.count(Closed) == 2)
    assert {record.link for record in host.of(Closed)} == {"serial-ttyA", "serial-ttyB"}
    (trouble,) = link.troubles()
    assert trouble.startswith(f"Two boards call themselves yard, on {one_port.path} and {other_port.path}:")
    assert "give it another name" in trouble
    assert not link.send("yard", Ask())
    n = len(host.records)
    for _ in range(20):
        one.report(1, "off")
        other.report(1, "on")
    birch.report(1, "on")
    all_came(host, birch)
    wait_for(lambda: reasons_of(host).count("same-name") >= 8)
    assert {record.line.board for record in host.records[n:] if isinstance(record, Received)} == {"birch"}
    assert host.came_of(other) == [] and len(host.came_of(one)) == before
    other.on(None)
    other_port.unplug()
    host.wait(lambda: host.count(Opened) == 4)
    assert host.of(Opened)[-1].link == "serial-ttyA"
    all_came(host, one)  # what it said meanwhile was asked for
    assert host.came_of(other) == []
    wait_for(lambda: not any("yard" in trouble for trouble in link.troubles()))


def test_what_two_of_one_name_say_is_kept_with_a_reason_and_a_bound(host, plug, link_to, board) -> None:
    one_port, other_port = plug("ttyA"), plug("ttyB")
    one, other = board("alder", boot=17), board("alder", boot=3)
    host.serve(link_to(one_port, other_port, into=host, patience=BRISK))
    begin(host, one, one_port)
    other.start(other_port)  # both plugged in at the start
    host.wait(lambda: host.count(Closed) == 2)
    began, first = time.monotonic(), len(host.records)
    while time.monotonic() - began < 2.2:
        one.report(1, "on")
        other.report(1, "off")
        time.sleep(0.005)  # their pace: some 200 lines a second each
    host.wait(lambda: reasons_of(host).count("flooding") >= 4)
    kept = [record for record in host.records[first:] if isinstance(record, Rejected)]
    for name in ("serial-ttyA", "serial-ttyB"):
        of_port = [record for record in kept if record.link == name and record.reason == "same-name"]
        assert 0 < len(of_port) <= 4 * 4  # in four seconds at most, with those that begin and end in others
        told = [rejects_withheld(record) or {} for record in kept if record.link == name]
        assert sum(reasons.get("same-name", 0) for reasons in told) > 100
    assert not [record for record in host.records[first:] if isinstance(record, Received)]


def test_inputs_of_a_shared_name_are_unknown_until_the_one_that_is_left_has_been_asked(host, plug, link_to, board) -> None:
    inputs = max(row.input for row in load(RAILWAY).railway.plant.detectors.values() if row.board == "thistle")  # type: ignore[union-attr]
    one_port, other_port = plug("ttyA"), plug("ttyB")
    one, other = board("thistle", boot=17, inputs=inputs), board("thistle", boot=3, inputs=inputs)
    link = link_to(one_port, other_port, into=host, patience=BRISK)
    host.serve(link)
    begin(host, one, one_port)
    host.wait(lambda: not stands_unknown(host.records, "thistle"))
    other.start(other_port)
    host.wait(lambda: host.count(Closed) == 2)
    assert stands_unknown(host.records, "thistle")
    one.on(None)  # the first falls silent, its port stays open
    host.wait(lambda: host.count(Opened) == 4)
    host.wait(lambda: not stands_unknown(host.records, "thistle"))
    assert [line.boot for line in lines_of(host) if isinstance(line, Hello)][-1] == 3


def test_one_of_two_gets_another_name_and_both_are_heard(host, plug, link_to, board) -> None:
    one_port, other_port = plug("ttyA"), plug("ttyB")
    one, other, renamed = board("alder", boot=17), board("alder", boot=3), board("birch", boot=4)
    link = link_to(one_port, other_port, into=host, patience=BRISK)
    host.serve(link)
    begin(host, one, one_port)
    other.start(other_port)
    host.wait(lambda: host.count(Closed) == 2)
    other.on(None)
    begin(host, renamed, other_port)
    renamed.report(1, "on")
    all_came(host, renamed)
    one.report(1, "on")
    all_came(host, one)
    assert link.troubles() == ()
    assert host.count(Opened) == 4


def test_the_old_handle_of_a_board_that_has_moved_may_stay_open_for_a_while(host, plug, link_to, board) -> None:
    old, new, alder = plug("ttyA"), plug("ttyB"), board("alder")
    link = link_to(old, new, into=host, patience=BRISK)
    host.serve(link)
    begin(host, alder, old)
    alder.report(1, "on")
    all_came(host, alder)
    alder.on(None)
    alder.report(2, "on")
    alder.asked.clear()
    alder.on(new)  # nothing tells that the old one is out
    began = time.monotonic()
    all_came(host, alder)
    assert time.monotonic() - began < QUIET_S + 5 * ALIVE_S + 1.0
    wait_for(lambda: Ask() in alder.asked)
    assert host.of(Closed) == [] and "same-name" not in reasons_of(host)


class Rebooting(threading.Thread):
    """A board that restarts when its port is opened, seen by the first `ask`: deaf for a while, noise, hello, new boot."""

    def __init__(self, port, live: LiveBoard, deaf_s: float) -> None:
        super().__init__(daemon=True)
        self._port, self._live, self._deaf_s = port, live, deaf_s

    def run(self) -> None:
        self._live.on(None)
        time.sleep(self._deaf_s)  # the bootloader waits for an upload
        self._port.heard()
        self._port.say_bytes(b"\x00\xf8\xffets Jan  8\r\nrst cause:2, boot mode:(3,6)\r\n\x80\x00load\r\n")
        self._live.on(self._port)
        self._live.asked.clear()
        self._live.restart()


@pytest.mark.parametrize("deaf_s", [0.3, 1.7])
def test_a_board_that_resets_on_opening_is_asked_once_right_after_its_hello(host, plug, link_to, board, deaf_s) -> None:
    """1.5 to 2 s is how long a bootloader waits (common practice, no source)."""
    port, thistle = plug("ttyA"), board("thistle", boot=17, inputs=16)
    link = link_to(port, into=host, patience=BRISK)
    host.serve(link)
    begin(host, thistle, port)
    thistle.report(1, "on")
    host.wait(lambda: not stands_unknown(host.records, "thistle"))
    thistle.on(None)
    port.unplug()
    host.wait(lambda: host.count(Closed) == 1)
    port.plug_in()
    host.wait(lambda: host.count(Opened) == 2)
    rebooting = Rebooting(port, thistle, deaf_s)
    rebooting.start()
    rebooting.join()
    hello_at = time.monotonic()
    assert stands_unknown(host.records, "thistle")
    wait_for(lambda: Ask() in thistle.asked)
    assert time.monotonic() - hello_at < 1.0
    host.wait(lambda: not stands_unknown(host.records, "thistle"))
    time.sleep(2.2)  # that it is not asked again, within the tries that there might be, can only be waited for
    assert thistle.asked == [Ask()]
    assert link.troubles() == ()
    assert 0 < len(host.of(Rejected)) <= 4
