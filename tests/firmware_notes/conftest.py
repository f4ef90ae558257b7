"""The chip and its firmware, compiled once a run of the tests."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest

from . import chip as c

FULL = [2, 3, 4, 5, 6, 7, 9, 10, 11, 12, 14, 15, 16, 17, 18, 19]
"""Every pin that can be an input beside a reader."""

MakeChip = Callable[..., c.Chip]


@pytest.fixture(scope="session")
def make_chip(need: c.Need, tmp_path_factory: pytest.TempPathFactory) -> MakeChip:
    """`make_chip(settings)`: a chip with that firmware and erased EEPROM."""
    where = tmp_path_factory.mktemp("chip")
    program = c.harness(need, where)

    @cache
    def firmware(settings: str | None) -> Path:
        return c.firmware(need, tmp_path_factory.mktemp("firmware"), settings)

    def made(settings: str | None = None, elf: Path | None = None) -> c.Chip:
        return c.Chip(program, elf or firmware(settings), tmp_path_factory.mktemp("eeprom") / "cells")

    return made


@pytest.fixture
def full(make_chip: MakeChip) -> c.Chip:
    """A board with all the inputs there can be, and a serial reader."""
    return make_chip(c.settings(FULL, "READER_SERIAL"))


@pytest.fixture(scope="session")
def pure(need: c.Need, tmp_path_factory: pytest.TempPathFactory) -> ctypes.CDLL:
    """The firmware's pure parts, compiled for this machine."""
    made = tmp_path_factory.mktemp("pure") / "pure.so"
    parts = [c.SOURCES / f"{name}.c" for name in ("lines", "reports", "frames", "em4100", "presence", "boots")]
    here = Path(__file__).parent
    strict = (*c.STRICT, "-fsanitize=undefined", "-fno-sanitize-recover")
    c.done(
        need("gcc"),
        "-std=c11",
        "-O1",
        "-g",
        *strict,
        "-shared",
        "-fPIC",
        f"-I{c.SOURCES}",
        *parts,
        here / "host.c",
        "-o",
        made,
    )
    return ctypes.CDLL(str(made))
