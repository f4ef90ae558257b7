"""The whole firmware in the chip: what is done to its pins and said to it, and what it says."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import pairwise
from random import Random

import pytest

from bridge.wire.lines import Alive, BoardLine, Edge, Hello, Report, State

from . import chip as c
from .conftest import FULL, MakeChip

MS = 1000
S = 1_000_000
READER = 20
LINE_MS = 40
"""The longest that a line waits behind others and is on its way."""


def of(kind: type[BoardLine], sent: Iterable[c.Sent]) -> list[BoardLine]:
    return [line for _, line in sent if isinstance(line, kind)]


def values(sent: Iterable[c.Sent]) -> list[tuple[int, str]]:
    return [(line.input, line.value) for line in of(Report, sent)]  # type: ignore[attr-defined]


def burst(chance: Random, pin: int, from_us: int, to_level: int, last_us: int) -> Iterator[str]:
    """A contact that bounces: edges 0.05 to 2 ms apart; from `last_us` at the latest it stands at `to_level`."""
    us, level = from_us, to_level
    while us < last_us:
        yield f"at {us} pin {pin} {level}"
        us += chance.randrange(50, 2000)
        level ^= 1
    yield f"at {min(us, last_us)} pin {pin} {to_level}"


# -- what it says by itself -------------------------------------------------------------------------------------------------


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


# -- inputs -----------------------------------------------------------------------------------------------------------------


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


# -- what it is told --------------------------------------------------------------------------------------------------------


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


def toggles(pin: int, count: int, from_us: int, every_us: int = 50 * MS) -> list[str]:
    return [f"at {from_us + n * every_us} pin {pin} {n % 2}" for n in range(count)]


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


# -- raw edges --------------------------------------------------------------------------------------------------------------


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


# -- the reader -------------------------------------------------------------------------------------------------------------

FRAME = b"\x0201000734E0D2\x03".hex()
OTHER = b"\x0262E3086CED08\r\n\x03".hex()


def frames(hexes: Iterable[str], from_ms: float, every_ms: float = 65) -> list[str]:
    return [f"at {round((from_ms + n * every_ms) * MS)} bytes {text}" for n, text in enumerate(hexes)]


def test_a_tag_that_stays_is_reported_once_and_again_after_300_ms(full: c.Chip) -> None:
    script = frames([FRAME] * 20, 300)
    assert values(full.run([*script, *frames([FRAME] * 3, 300 + 20 * 65 + 200)], 4 * S)) == [(READER, "tag=01000734E0")]
    script += frames([FRAME] * 3, 300 + 19 * 65 + 330)
    assert values(full.run(script, 4 * S)) == [(READER, "tag=01000734E0")] * 2


def test_two_tags_read_by_turns_are_reported_once_each_and_lie_there(full: c.Chip) -> None:
    script = [*frames([FRAME, OTHER] * 10, 300), f"at 1580000 {c.told('ask')}"]
    sent = full.run(script, 3 * S)
    assert values(sent) == [(READER, "tag=01000734E0"), (READER, "tag=62E3086CED")]
    assert [line.value for line in of(State, sent)][-1] == "tag=62E3086CED"  # type: ignore[attr-defined]
    assert of(State, full.run([*script, f"at 2500000 {c.told('ask')}"], 3 * S))[-1].value == "off"  # type: ignore[attr-defined]


def test_a_rest_tells_when_its_token_is_lifted(make_chip: MakeChip) -> None:
    chip = make_chip(c.settings([2], "READER_SERIAL", rests=1))
    sent = chip.run(frames([FRAME] * 20, 300), 3 * S)
    assert values(sent) == [(READER, "tag=01000734E0"), (READER, "off")]
    laid, lifted = of(Report, sent)
    assert lifted.ms - laid.ms == pytest.approx(19 * 65 + 300, abs=20)  # type: ignore[attr-defined]


def test_frames_that_are_none_are_refused_and_counted(full: c.Chip) -> None:
    wrong = ["02004DB005FC", "060075EA6DD6", "060075824E;D", "000000000000"]  # as in test_tags.py, with their sources
    hexes = [b"\x02".hex() + text.encode().hex() + "03" for text in wrong] + [FRAME[:12], FRAME]
    sent = full.run(frames(hexes, 300), 3 * S)
    assert values(sent) == [(READER, "tag=01000734E0")]
    assert [dict(line.extra)["refused"] for line in of(Alive, sent)] == ["5"]  # type: ignore[attr-defined]


def test_a_reader_whose_line_idles_low(make_chip: MakeChip) -> None:
    chip = make_chip(c.settings([2], "READER_SERIAL", upside_down=1))
    bits = [1] * 30 + [bit for byte in bytes.fromhex(FRAME) for bit in (0, *(byte >> n & 1 for n in range(8)), 1)] + [1] * 30
    levels = "".join(str(1 - bit) for bit in bits)
    assert values(chip.run(["pin 8 0", f"at 300000 levels 104 {levels}"], S)) == [(READER, "tag=01000734E0")]


WORD = f"{0xFFAA200454C480A0:064b}"  # of tag 5800856402, see test_tags.py


def manchester(words: int, inverted: bool = False) -> str:
    halves = "".join("10" if bit == "1" else "01" for bit in WORD * words)
    return halves.translate(str.maketrans("01", "10")) if inverted else halves


@pytest.mark.parametrize("upside_down", [0, 1])
def test_a_bare_reader_tells_a_tag_after_two_equal_words(make_chip: MakeChip, upside_down: int) -> None:
    chip = make_chip(c.settings([2], "READER_BARE", upside_down=upside_down))
    script = [f"at {n * S} levels 256 {manchester(words, bool(upside_down))}1" for n, words in ((1, 1), (2, 4), (3, 40))]
    sent = chip.run([*script, f"at {4200 * MS} {c.told('ask')}"], 5 * S)
    assert values(sent) == [(READER, "tag=5800856402")] * 2
    assert [line.ms // 1000 for line in of(Report, sent)] == [2, 3]  # type: ignore[attr-defined]
    assert of(State, sent)[-1].value == "tag=5800856402"  # type: ignore[attr-defined]


def test_two_words_with_a_pause_between_are_not_one_behind_the_other(make_chip: MakeChip) -> None:
    """The pause is as long as the chip's counter takes to go round."""
    chip = make_chip(c.settings([2], "READER_BARE"))
    pause = "1" * 128  # of 256 us: 32.768 ms
    sent = chip.run([f"at {S} levels 256 {manchester(2)[8:]}{pause}{manchester(1)}{pause}{manchester(1)}10"], 2 * S)
    assert values(sent) == []
    assert values(chip.run([f"at {S} levels 256 {manchester(2)[8:]}10{'1' * 300}{manchester(2)}10"], 2 * S)) == []
    sent = chip.run([f"at {S} levels 256 {manchester(2)[8:]}{manchester(2)}10"], 2 * S)
    assert values(sent) == [(READER, "tag=5800856402")]


def test_a_bare_reader_reads_through_jitter_and_hears_nothing_in_noise(make_chip: MakeChip) -> None:
    chip, chance = make_chip(c.settings([2], "READER_BARE")), Random(9)
    script, us = [], 300 * MS
    for _ in range(5000):  # noise, as a reader gives it with no tag near
        us += chance.choice((30, 90, 250, 260, 500, 700))
        script.append(f"at {us} pin 8 {len(script) % 2}")
    us += 20 * MS
    for n, level in enumerate(manchester(4)):
        script.append(f"at {us + n * 256 + chance.randrange(-50, 51)} pin 8 {level}")
    sent = chip.run(script, us + S)
    assert values(sent) == [(READER, "tag=5800856402")]
    assert of(Report, sent)[0].ms * MS > us  # type: ignore[attr-defined]


# -- all at once ------------------------------------------------------------------------------------------------------------


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
