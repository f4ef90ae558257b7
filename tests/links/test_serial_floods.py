"""More than a port, or the host, can take: other ports are served, nothing piles up, and what is lost is known by number."""

from __future__ import annotations

import threading
import time

from bridge.links.link import Arrival
from bridge.wire.encode import encode
from bridge.wire.lines import Again, Hello, Report
from bridge.wire.records import Received

from ..waiting import wait_for
from .live import BRISK, Host, begin, lines_of, missing_of


def test_a_flood_on_one_port_does_not_hold_up_another(host, plug, link_to, board) -> None:
    """The flooder writes as fast as its wire takes it, far above 115200 baud; the other is heard within half a second."""
    flooded, port, alder = plug("ttyA"), plug("ttyB"), board("alder")
    link = link_to(flooded, port, into=host, patience=BRISK)
    host.serve(link)
    begin(host, alder, port)
    ends = threading.Event()
    block = b"".join(encode(Report("birch", 3, seq, 100, 1, "on")) for seq in range(1, 40))

    def flood() -> None:
        while not ends.is_set():
            try:
                flooded.say_bytes(block)
            except BlockingIOError:
                ends.wait(0.001)

    flooding = threading.Thread(target=flood)
    began = time.monotonic()
    flooding.start()
    try:
        host.wait(lambda: len(lines_of(host, "serial-ttyA")) > 100)
        for number in range(1, 9):
            said = time.monotonic()
            alder.report(1, "on")
            host.wait(lambda number=number: len(host.came_of(alder)) == number)
            assert time.monotonic() - said < 0.5
    finally:
        ends.set()
        flooding.join()
    lasted_s = time.monotonic() - began
    assert len(lines_of(host, "serial-ttyA")) * 30 < 1.5 * BRISK.bytes_s * (lasted_s + 1)  # a line is over 30 bytes


def test_a_port_that_the_inbox_holds_back_loses_lines_by_name_and_gets_them_again(plug, link_to, board) -> None:
    """Nothing piles up in the program: the system's buffer runs over, a gap shows it, and the board is asked."""
    let_go = threading.Event()

    class Reluctant(Host):
        def __call__(self, arrival: Arrival) -> None:
            if any(isinstance(record, Received) and isinstance(record.line, Report) for record in arrival.records):
                assert let_go.wait(20)
            super().__call__(arrival)

    host, port, alder = Reluctant(), plug("ttyA"), board("alder")
    try:
        host.serve(link_to(port, into=host, patience=BRISK))
        begin(host, alder, port)
        host.wait(lambda: any(isinstance(line, Hello) for line in lines_of(host)))
        for count in range(4_000):  # 140 kB: more than a terminal's buffers hold
            alder.report(1, "on" if count % 2 else "off")
        let_go.set()
        for _ in range(40):  # and goes on, at a pace that a wire carries
            alder.report(2, "on")
            time.sleep(0.01)
        newest = alder.reports[-1]
        host.wait(lambda: newest in host.came_of(alder))
        came = host.came_of(alder)
        lost = {row.seq for row in alder.reports} - {row.seq for row in came}
        assert lost  # a board keeps 32: the rest does not come again, and is known to be missing
        wait_for(lambda: lost - missing_of(host, "alder") <= {row.seq for row in host.came_of(alder)})
        assert set(came) <= set(alder.reports)
        wait_for(lambda: any(isinstance(line, Again) for line in alder.asked))
    finally:
        let_go.set()
        host.stop()
