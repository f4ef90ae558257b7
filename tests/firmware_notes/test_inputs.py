"""The whole firmware in the chip: contacts that bounce, glitch, change together, or stand from the start."""

from __future__ import annotations

from collections.abc import Iterator
from random import Random

import pytest

from bridge.wire.lines import Report, State

from . import chip as c
from .conftest import FULL, MakeChip
from .speaking import MS, S, of, values


def burst(chance: Random, pin: int, from_us: int, to_level: int, last_us: int) -> Iterator[str]:
    """A contact that bounces: edges 0.05 to 2 ms apart; from `last_us` at the latest it stands at `to_level`."""
    us, level = from_us, to_level
    while us < last_us:
        yield f"at {us} pin {pin} {level}"
        us += chance.randrange(50, 2000)
        level ^= 1
    yield f"at {min(us, last_us)} pin {pin} {to_level}"


def test_a_bouncing_contact_is_one_report(full: c.Chip) -> None:
    """Bursts of 0.05 to 2 ms, up to 12 ms long, on every input, over and over."""
    chance = Random(1)
    script, want = [], []
    us = 200 * MS
    for n in range(40):
        for number, pin in enumerate(FULL, 1):
            level = n % 2
            last_us = us + chance.randrange(12 * MS)
            script += burst(chance, pin, us, level, last_us)
            want.append((number, "off" if level else "on", last_us))
        us += 100 * MS
    sent = full.run(script, us + S)
    reports = of(Report, sent)
    assert len(reports) == len(want)
    assert sorted(values(sent)) == sorted((number, value) for number, value, _ in want)
    seen: dict[int, list[Report]] = {}
    for report in reports:
        seen.setdefault(report.input, []).append(report)  # type: ignore[attr-defined,arg-type]
    zero_us = 200 * MS
    off = seen[1][0].ms - zero_us / MS  # chip time against the board's own, with the debouncing
    for number, value, last_us in want:
        report = seen[number].pop(0)
        assert report.value == value
        assert -14 < report.ms - last_us / MS - off < 14, "after its contact has come to rest, not long after"


@pytest.mark.parametrize(("held_us", "count"), [(50, 0), (2000, 0), (7400, 0), (8600, 2), (20_000, 2)])
def test_what_is_shorter_than_8_ms_is_nothing(full: c.Chip, held_us: int, count: int) -> None:
    script = []
    for n in range(10):
        us = (200 + 50 * n) * MS + 137 * n
        script += [f"at {us} pin 5 0", f"at {us + held_us} pin 5 1"]
    assert len(of(Report, full.run(script, S))) == 10 * count


def test_inputs_that_change_together_are_all_reported_with_the_same_ms(full: c.Chip) -> None:
    sent = full.run([f"at 300000 pin {pin} 0" for pin in FULL], S)
    assert sorted(values(sent)) == [(number, "on") for number in range(1, 17)]
    assert len({line.ms for line in of(Report, sent)}) == 1  # type: ignore[attr-defined]
    assert full.off_us < 70
    assert [line.seq for line in of(Report, sent)] == list(range(1, 17))  # type: ignore[attr-defined]


def test_an_inverted_input_is_on_when_its_contact_is_open(make_chip: MakeChip) -> None:
    chip = make_chip(c.settings([2, 3], inverted=[3]))
    sent = chip.run(["at 300000 pin 2 0", "at 400000 pin 3 0", "at 500000 pin 3 1", f"at 200000 {c.told('ask')}"], S)
    assert [(line.input, line.value) for line in of(State, sent)] == [(1, "off"), (2, "on")]  # type: ignore[attr-defined]
    assert values(sent) == [(1, "on"), (2, "off"), (2, "on")]


def test_how_inputs_stand_at_the_start_is_a_state_and_no_report(full: c.Chip) -> None:
    sent = full.run(["pin 4 0", "pin 19 0", f"at 500000 {c.told('ask')}"], S)
    assert of(Report, sent) == []
    states = {line.input: line.value for line in of(State, sent)}  # type: ignore[attr-defined]
    assert [number for number, value in states.items() if value == "on"] == [3, 16]
