"""The firmware compiled, with whatever settings, and run in the chip in software (harness*.c).

Rule: each line that comes out of it is read here by the project's own parser, and is written by it in the same way.
"""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from bridge.wire.encode import encode
from bridge.wire.lines import BoardLine, Reject
from bridge.wire.parser import checksum, parse_board_line

Need = Callable[[str], str]

SOURCES = Path(__file__).resolve().parents[2] / "firmware_notes" / "avr-board"
FLAGS = ("-mmcu=atmega328p", "-DF_CPU=16000000UL", "-Os", "-ffunction-sections", "-fdata-sections")
STRICT = ("-Wall", "-Wextra", "-Wno-type-limits", "-Werror")  # a board may have no inputs
LONGEST_S = 120


class Sent(NamedTuple):
    """A line of the board, and the chip's microsecond at its end."""

    us: int
    line: BoardLine


def done(*command: object) -> str:
    """Run a compiler, or fail with what it says."""
    ended = subprocess.run([str(word) for word in command], capture_output=True, text=True, timeout=LONGEST_S, check=False)
    assert ended.returncode == 0, ended.stderr
    return ended.stdout


def harness(need: Need, where: Path) -> Path:
    """The chip in software, compiled."""
    gcc = need("gcc")
    need("simavr")
    probe = where / "probe.c"
    probe.write_text("#include <simavr/sim_elf.h>\n#include <libelf.h>\n")
    if subprocess.run([gcc, "-E", str(probe)], capture_output=True, check=False).returncode:
        need("simavr-headers")
    made = where / "harness"
    sources = sorted(Path(__file__).parent.glob("harness*.c"))
    done(gcc, "-std=c11", "-O2", *STRICT, *sources, "-o", made, "-lsimavr", "-lelf")
    return made


def firmware(need: Need, where: Path, settings: str | None = None) -> Path:
    """The firmware without a sketch editor, with the settings beside it or with others."""
    made = where / "board.elf"
    with_settings: tuple[str, ...] = ()
    if settings is not None:
        (where / "other-settings.h").write_text(settings)
        with_settings = (f'-DSETTINGS="{where / "other-settings.h"}"',)
    sources = sorted(SOURCES.glob("*.c"))
    done(need("avr-gcc"), *FLAGS, "-std=gnu11", *STRICT, *with_settings, *sources, "-Wl,--gc-sections", "-o", made)
    return made


def settings(  # as `numbertaker boards` prints them, for tests that need others
    pins: Sequence[int], reader: str = "READER_NONE", *, rests: int = 0, inverted: Sequence[int] = (), upside_down: int = 0
) -> str:
    """Settings of a board called test, with inputs 1, 2, ... on these pins and the reader on input 20."""
    rows = " ".join(f"INPUT({n}, {pin}, {int(pin in inverted)})" for n, pin in enumerate(pins, 1))
    return (
        f'#define BOARD "test"\n#define INPUTS(INPUT) {rows}\n#define READER {reader}\n#define READER_INPUT 20\n'
        f"#define READER_RESTS {rests}\n#define READER_INVERTED {upside_down}\n#define DEBOUNCE_MS 8\n"
    )


def told(body: str) -> str:
    """A command that says a line to the board, with its checksum."""
    return f"host {body}*{checksum(body.encode()):02X}"


class Chip:
    """A firmware in the chip; `eeprom` lasts from run to run."""

    def __init__(self, program: Path, elf: Path, eeprom: Path) -> None:
        self.program, self.elf, self.eeprom = program, elf, eeprom
        self.off_us = 0.0
        """The longest that interrupts were off in the last run."""

    def run(self, script: Iterable[str], until_us: int) -> list[Sent]:
        """Do these commands up to this moment; what the board said."""
        commands = "\n".join([*script, f"run {until_us}", "off", "quit", ""])
        ended = subprocess.run(
            [self.program, self.elf, self.eeprom],
            input=commands,
            capture_output=True,
            text=True,
            errors="replace",
            timeout=LONGEST_S,
            check=False,
        )
        assert ended.returncode == 0, ended.stderr
        sent = []
        for row in ended.stdout.splitlines():
            if row.startswith("off "):
                self.off_us = float(row[4:])
            if row.startswith("> "):
                _, us, raw = row.split(" ", 2)
                line = parse_board_line(raw.encode())
                assert not isinstance(line, Reject), row
                assert encode(line) == raw.encode() + b"\n"
                sent.append(Sent(int(us), line))
        return sent
