"""The whole firmware in the chip while everything happens at once, as fast as the line carries and faster."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from random import Random

from bridge.wire.lines import Alive, Report

from . import chip as c
from .conftest import FULL
from .speaking import FRAME, LINE_MS, MS, OTHER, READER, S, of, values


def test_time_and_inputs_are_unharmed_while_everything_talks_at_once(full: c.Chip, figure: Callable[[str], None]) -> None:
    """Reader frames without a pause, the host's line full of noise, a watched input that screams, all others moving."""
    seconds, chance = 4, Random(3)
    script = [f"at 300000 {c.told('watch 1 60')}"]
    script += [f"at {400 * MS + n * 15 * MS} bytes {(FRAME, OTHER)[n % 2]}" for n in range(seconds * 66)]
    noise = chance.randbytes(seconds * 11000).replace(b"\n", b"\n" * 2)
    script += [f"at {400 * MS + n * 100 * MS} hosthex {noise[1100 * n : 1100 * (n + 1)].hex()}" for n in range(seconds * 10)]
    script += [f"at {400 * MS + n * 200} pin 2 {n % 2}" for n in range(seconds * 5000)]  # 5,000 edges a second
    want = []
    for n in range(seconds * 20):
        for k, pin in enumerate(FULL[1:6]):
            us = 400 * MS + n * 50 * MS + k * 7 * MS + chance.randrange(2 * MS)
            script.append(f"at {us} pin {pin} {n % 2}")
            want.append((us, k + 2))
    sent = full.run(script, (seconds + 3) * S)
    reports = [line for line in of(Report, sent) if line.input not in (1, READER)]  # type: ignore[attr-defined]
    assert sorted(line.input for line in reports) == sorted(number for _, number in want)  # type: ignore[attr-defined]
    offs = [
        line.ms - us / MS  # type: ignore[attr-defined]
        for line, (us, _) in zip(sorted(reports, key=lambda line: (line.ms, line.input)), sorted(want), strict=True)  # type: ignore[attr-defined]
    ]
    assert max(offs) - min(offs) <= 2, "from an edge to its millisecond it is always as long: no tick was missed"
    assert {line.value for line in of(Report, sent) if line.input == READER} == {"tag=01000734E0", "tag=62E3086CED"}  # type: ignore[attr-defined]
    keys = dict(of(Alive, sent)[-1].extra)  # type: ignore[attr-defined]
    assert (keys["lost"], keys["refused"]) == ("0", "0")
    assert int(keys["free"]) >= 500
    assert full.off_us < 70, "a byte comes every 87 us, an edge every 104"
    starts = [us for us, line in sent if isinstance(line, Alive)]
    assert all(b - a < 2 * S + LINE_MS * MS for a, b in pairwise(starts))
    figure(
        f"firmware under full load: {keys['free']} bytes of RAM never used, "
        f"edges timed alike within {max(offs) - min(offs):.1f} ms, interrupts off for {full.off_us:.0f} us at most"
    )


def test_ten_thousand_edges_and_none_lost(full: c.Chip, figure: Callable[[str], None]) -> None:
    """As fast as the line carries them: about 290 reports a second on 16 inputs, in bunches of 1 to 16."""
    chance, script, us = Random(6), [], 300 * MS
    levels = dict.fromkeys(FULL, 1)
    want: list[tuple[int, str]] = []
    while len(want) < 10_000:
        bunch = chance.sample(FULL, chance.randrange(1, 17))
        for pin in bunch:
            levels[pin] ^= 1
            script.append(f"at {us + chance.randrange(900)} pin {pin} {levels[pin]}")
            want.append((FULL.index(pin) + 1, "off" if levels[pin] else "on"))
        us += 3600 * max(len(bunch), 3) + 600
    sent = full.run(script, us + S)
    got = of(Report, sent)
    assert [line.seq for line in got] == list(range(1, len(want) + 1))  # type: ignore[attr-defined]
    for number in range(1, 17):
        assert [v for n, v in values(sent) if n == number] == [v for n, v in want if n == number]
    first, last = (next(at for at, line in rows if isinstance(line, Report)) for rows in (sent, sent[::-1]))
    bytes_sent = sum(len(c.encode(line)) for at, line in sent if first < at <= last)
    assert {dict(line.extra)["lost"] for line in of(Alive, sent)} == {"0"}  # type: ignore[attr-defined]
    used = 0
    for _, line in sent:
        used = line.seq if isinstance(line, Report) else used
        assert not isinstance(line, Alive) or line.seq == used, "a number that has not been sent yet would be taken for lost"
    figure(
        f"{len(want)} edges on 16 inputs, 0 lost: {len(want) / (last - first) * S:.0f} reports a second, "
        f"{bytes_sent / (last - first) * S:.0f} bytes a second"
    )


def test_what_the_line_cannot_carry_is_counted_and_its_numbers_are_missing(full: c.Chip) -> None:
    """16 inputs that all change every 10 ms are 1,600 reports a second, five times what the line carries."""
    script = [f"at {300 * MS + n * 10 * MS} pin {pin} {n % 2}" for n in range(200) for pin in FULL]
    sent = full.run(script, 5 * S)
    numbers = [line.seq for line in of(Report, sent)]  # type: ignore[attr-defined]
    assert numbers == sorted(set(numbers))
    lost = int(dict(of(Alive, sent)[-1].extra)["lost"])  # type: ignore[attr-defined]
    assert lost > 1000
    assert numbers[-1] == len(numbers) + lost == 3200
    assert of(Alive, sent)[-1].seq == 3200  # type: ignore[attr-defined]
