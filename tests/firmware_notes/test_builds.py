"""Every way to build the firmware: by hand, by `make`, as a sketch; with the settings beside it, and with all inputs."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from bridge.wire.lines import Hello

from . import chip as c
from .conftest import FULL, MakeChip

CORE = Path("/usr/share/arduino/hardware/arduino/avr")
RAM = 2048
FLASH = 32256
"""What a bootloader of 512 bytes leaves of 32 KiB."""
STACK_LEAST = 500


def sizes(need: c.Need, elf: Path) -> dict[str, int]:
    titles, row = c.done(need("avr-size"), elf).splitlines()[:2]
    return dict(zip(titles.split()[:3], map(int, row.split()[:3]), strict=True))


@pytest.mark.parametrize("reader", ["READER_NONE", "READER_SERIAL", "READER_BARE"])
def test_it_fits_with_room_for_the_stack(need: c.Need, tmp_path: Path, figure: Callable[[str], None], reader: str) -> None:
    pins = [*FULL, 8] if reader == "READER_NONE" else FULL
    size = sizes(need, c.firmware(need, tmp_path, c.settings(pins, reader)))
    left = RAM - size["data"] - size["bss"]
    figure(f"firmware, {len(pins)} inputs, {reader}: {size} bytes by avr-size, {left} bytes of RAM left for the stack")
    assert left >= STACK_LEAST
    assert size["text"] + size["data"] <= FLASH


@pytest.mark.parametrize(
    ("settings", "says"),
    [
        (c.settings([2, 3, 2]), "two inputs on the same pin"),
        (c.settings([2, 13]), "a pin that cannot be an input"),
        (c.settings([0]), "a pin that cannot be an input"),
        (c.settings([8], "READER_SERIAL"), "a pin that cannot be an input"),
        (c.settings([2]).replace('"test"', '"a-name-longer-than-16"'), "1 to 16 characters"),
        (c.settings([2]).replace("DEBOUNCE_MS 8", "DEBOUNCE_MS 50"), "DEBOUNCE_MS: 5 to 10"),
    ],
)
def test_settings_that_cannot_be_are_refused_with_the_reason(need: c.Need, tmp_path: Path, settings: str, says: str) -> None:
    with pytest.raises(AssertionError, match=says):
        c.firmware(need, tmp_path, settings)


def test_the_settings_beside_it_and_make_give_a_board(need: c.Need, make_chip: MakeChip, tmp_path: Path) -> None:
    need("avr-gcc")
    folder = tmp_path / "avr-board"
    shutil.copytree(c.SOURCES, folder)
    c.done(need("make"), "-C", folder, "--quiet")
    assert (folder / "avr-board.hex").stat().st_size > 10_000
    (hello,) = [line for _, line in make_chip(elf=folder / "avr-board.elf").run([], 100_000)]
    assert hello == Hello("alder", 1, 0, 9, (("fw", "avr-1"), ("reset", "power"), ("min", "1")))


def test_the_sketch_says_hello_and_is_alive(need: c.Need, make_chip: MakeChip, tmp_path: Path) -> None:
    """As a sketch editor builds it: with the core's own main and clock."""
    if not CORE.is_dir():
        need("arduino-core-avr")
    core = CORE / "cores" / "arduino"
    of_core = [f"-I{core}", f"-I{CORE / 'variants' / 'standard'}", "-DARDUINO=10807", *c.FLAGS]
    # This compiler lacks a constant in C++ that the core's WString.cpp uses.
    cpp = [need("avr-g++"), *of_core, "-std=gnu++11", "-fpermissive", "-w", "-DDECIMAL_DIG=__DECIMAL_DIG__"]
    plain = [need("avr-gcc"), *of_core, "-std=gnu11"]

    def compiled(sources: Sequence[Path], *more: str) -> list[Path]:
        made = [tmp_path / f"{source.name}.o" for source in sources]
        for source, target in zip(sources, made, strict=True):
            c.done(*(cpp if source.suffix == ".cpp" else plain), *more, "-c", source, "-o", target)
        return made

    sketch = tmp_path / "avr-board.ino.cpp"
    sketch.write_text("#include <Arduino.h>\n" + (c.SOURCES / "avr-board.ino").read_text())
    objects = compiled([*sorted(c.SOURCES.glob("*.c")), sketch], f"-I{c.SOURCES}")
    archive, elf = tmp_path / "core.a", tmp_path / "sketch.elf"
    c.done(need("avr-ar"), "rcs", archive, *compiled([*sorted(core.glob("*.c")), *sorted(core.glob("*.cpp"))]))
    c.done(*plain, *objects, archive, "-Wl,--gc-sections", "-o", elf)
    sent = make_chip(elf=elf).run(["at 500000 pin 3 0"], 2_200_000)
    assert [type(line).__name__ for _, line in sent] == ["Hello", "Report", "Alive"]
