"""The whole firmware in the chip: what it says by itself, what it is told, and watched inputs."""

from __future__ import annotations

from random import Random

import pytest

from bridge.wire.lines import Alive, Edge, Hello, Report, State

from . import chip as c
from .conftest import FULL, MakeChip
from .speaking import MS, READER, S, of, toggles


def test_it_says_hello_and_then_that_it_is_alive_every_2_seconds(full: c.Chip) -> None:
    sent = full.run([], 9 * S)
    hello, *others = sent
    assert hello.line == Hello("test", 1, 0, READER, (("fw", "avr-1"), ("reset", "power"), ("min", "1")))
    assert hello.us < 100 * MS
    alive = [line for _, line in others if isinstance(line, Alive)]
    assert len(alive) == len(others) == 4
    assert [line.seq for line in alive] == [0] * 4
    assert [line.ms for line in alive] == pytest.approx(range(2000, 9000, 2000), abs=1)
    keys = [dict(line.extra) for line in alive]
    assert [key["up"] for key in keys] == [str(s) for s in range(2, 9, 2)]
    assert {(key["lost"], key["refused"]) for key in keys} == {("0", "0")}


def test_starts_are_counted_and_told_with_their_reason(make_chip: MakeChip) -> None:
    chip = make_chip(c.settings(FULL, "READER_SERIAL"))
    script = ["at 500000 reset", "at 1000000 hang", "at 2500000 power"]
    sent = chip.run(script, 3 * S)
    hellos = of(Hello, sent)
    assert [(line.boot, dict(line.extra)["reset"]) for line in hellos] == [  # type: ignore[attr-defined]
        (1, "power"),
        (2, "external"),
        (3, "watchdog"),
        (4, "power"),
    ]
    assert next(us for us, line in sent if us > S) - S < 700 * MS, "half a second for the watchdog, and the start"
    assert [line.boot for line in of(Hello, chip.run([], 100 * MS))] == [5]  # type: ignore[attr-defined]


def test_however_a_start_is_cut_short_no_number_comes_twice(make_chip: MakeChip) -> None:
    chip, chance = make_chip(c.settings([2])), Random(2)
    moments = [20 * MS * n + chance.randrange(20 * MS) for n in range(1, 200)]
    boots = [line.boot for line in of(Hello, chip.run([f"at {us} power" for us in moments], 5 * S))]  # type: ignore[attr-defined]
    assert boots == sorted(set(boots))
    assert 20 < len(boots) < 190, "some starts were cut short before they spoke, some were not"


def test_asked_it_says_hello_and_how_every_input_stands(full: c.Chip) -> None:
    sent = full.run(["at 300000 pin 3 0", f"at 500000 {c.told('ask')}"], S)
    hello, *states = [line for us, line in sent if us > 500 * MS]
    assert isinstance(hello, Hello)
    assert dict(hello.extra)["min"] == "1"
    assert [(type(s), s.seq, s.input, s.value) for s in states] == [  # type: ignore[union-attr]
        (State, n + 1, number, "on" if number == 2 else "off") for n, number in enumerate([*range(1, 17), READER], 1)
    ]
    assert sent[-1].us - 500 * MS < 100 * MS


def test_asked_while_reports_wait_it_tells_nothing_twice_and_no_state_ahead_of_its_report(full: c.Chip) -> None:
    """16 reports come due while 17 states are being said: all of them arrive, and each state fits what was reported."""
    script = [f"at {300 * MS + n * 7 * MS} pin {pin} 0" for n, pin in enumerate(FULL)]
    script += [f"at {310 * MS} {c.told('ask')}", f"at {340 * MS} {c.told('ask')}", f"at {380 * MS} {c.told('ask')}"]
    said = full.run(script, S)
    sent = [line for _, line in said if isinstance(line, (Report, State))]
    assert [line.seq for line in sent] == list(range(1, len(sent) + 1))
    assert sorted((line.input, line.value) for line in sent if isinstance(line, Report)) == [(n, "on") for n in range(1, 17)]
    told = dict.fromkeys([*range(1, 17), READER], "off")
    for line in sent:
        if isinstance(line, State):
            assert line.value == told[line.input]
        told[line.input] = line.value
    assert {line.input for us, line in said if us > 380 * MS and isinstance(line, State)} == set(told)


def test_again_sends_reports_unchanged_as_far_as_they_are_kept(full: c.Chip) -> None:
    script = [
        *toggles(2, 40, 200 * MS),
        f"at {3 * S} {c.told('again 1 1 0')}",
        f"at {4 * S} {c.told('again 1 20 22')}",
        f"at {5 * S} {c.told('again 2 20 22')}",
        f"at {6 * S} {c.told('again 1 41 0')}",
    ]
    sent = full.run(script, 7 * S)
    first = {line.seq: line for us, line in sent if us < 3 * S and isinstance(line, Report)}
    assert sorted(first) == list(range(1, 41))
    answers = [[line for us, line in sent if s * S <= us < (s + 1) * S and isinstance(line, Report)] for s in (3, 4, 5, 6)]
    assert answers == [[first[seq] for seq in range(9, 41)], [first[seq] for seq in (20, 21, 22)], [], []]


def test_what_is_asked_for_again_comes_though_new_reports_never_cease(full: c.Chip) -> None:
    """A little more than the line carries, for a second; meanwhile three numbers are asked for again."""
    script = [f"at {300 * MS + n * 27 * MS} pin {pin} {n % 2}" for n in range(30) for pin in FULL[:10]]
    sent = full.run([*script, f"at {800 * MS} {c.told('again 1 165 167')}"], 3 * S)
    times: dict[int, list[int]] = {}
    for us, line in sent:
        if isinstance(line, Report):
            times.setdefault(line.seq, []).append(us)
    assert [len(times[seq]) for seq in (164, 165, 166, 167, 168)] == [1, 2, 2, 2, 1]
    assert times[167][1] < 900 * MS
    assert sorted(times) == list(range(1, 301))


def test_a_number_that_was_a_state_is_answered_with_how_it_stands_now(full: c.Chip) -> None:
    sent = full.run(
        [f"at 300000 {c.told('ask')}", "at 1000000 pin 2 0", f"at 2000000 {c.told('again 1 1 2')}"],
        3 * S,
    )
    states = [line for line in of(State, sent) if line.seq in (1, 2)]  # type: ignore[attr-defined]
    assert [(s.seq, s.input, s.value) for s in states] == [(1, 1, "off"), (2, 2, "off"), (1, 1, "on"), (2, 2, "off")]  # type: ignore[attr-defined]
    assert [round(s.ms, -3) for s in states] == [0, 0, 2000, 2000]  # type: ignore[attr-defined]


def test_damaged_and_foreign_words_are_not_answered_and_the_next_good_one_is(full: c.Chip) -> None:
    wrong = ["ask*78", "ask", "*79", "ASK*59", " ask*59", "again 1 1*05", "x" * 200, "say*7b", "hello a 1 2 inputs=3*0C", ""]
    script = [f"at {300 * MS + n * 50 * MS} host {words}" for n, words in enumerate(wrong)]
    script += [f"at 900000 hosthex {Random(1).randbytes(500).hex()}", "at 1000000 host ask*79", "at 1400000 host ask*79\r"]
    sent = full.run(script, 2 * S)
    hellos = [us for us, line in sent if isinstance(line, Hello)]
    assert [us // (500 * MS) for us in hellos] == [0, 2]
    sent = full.run([f"at 300000 hosthex {b'ask*79'.hex()}0d0a"], S)
    assert len(of(Hello, sent)) == 2


def test_a_watched_input_tells_every_edge_with_its_microsecond(full: c.Chip) -> None:
    chance = Random(4)
    script, want, us = [f"at 300000 {c.told('watch 1 3')}"], [], 400 * MS
    for _ in range(12):
        level = 0
        for _ in range(chance.randrange(1, 10) * 2):
            script.append(f"at {us} pin 2 {level}")
            want.append((us, "off" if level else "on"))
            us += chance.randrange(50, 2000)
            level ^= 1
        us += 120 * MS
    sent = full.run([*script, "at 450000 pin 3 0"], 6 * S)
    edges = of(Edge, sent)
    assert [(line.input, line.value) for line in edges] == [(1, value) for _, value in want]  # type: ignore[attr-defined]
    off = edges[0].us - want[0][0]  # type: ignore[attr-defined]
    assert all(abs(line.us - us - off) <= 30 for line, (us, _) in zip(edges, want, strict=True))  # type: ignore[attr-defined]


def test_watching_ends_by_itself_or_when_told(full: c.Chip) -> None:
    script = [f"at 300000 {c.told('watch 1 2')}", *toggles(2, 80, 400 * MS)]
    last = max(us for us, line in full.run(script, 5 * S) if isinstance(line, Edge))
    assert 2 * S < last < 2700 * MS
    script.append(f"at 1000000 {c.told('watch 1 0')}")
    assert max(us for us, line in full.run(script, 5 * S) if isinstance(line, Edge)) < 1100 * MS


def test_nobody_watches_for_longer_than_a_minute(full: c.Chip) -> None:
    script = [
        f"at 300000 {c.told('watch 1 4294967295')}",
        *toggles(2, 8, 57 * S, 100 * MS),
        *toggles(2, 8, 61 * S, 100 * MS),
    ]
    edges = [us for us, line in full.run(script, 62 * S) if isinstance(line, Edge)]
    assert len(edges) == 8
    assert max(edges) < 58 * S
