"""The whole firmware in the chip: a reader with a serial line, and a bare one."""

from __future__ import annotations

from random import Random

import pytest

from bridge.wire.lines import Alive, Report, State

from . import chip as c
from .conftest import MakeChip
from .speaking import FRAME, MS, OTHER, READER, S, frames, of, values


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
