"""The commands of `numbertaker`, one module each; the only place that wires parts together and makes the real clock.

Rule: a command module has `add(commands)`, which registers its parser with `set_defaults(run=...)`; `run(arguments)` returns
the exit status: 0 success, 1 faults found, 2 wrong usage. Errors go to stderr, results to stdout.
"""

from __future__ import annotations

import argparse
import sys
from types import ModuleType

from bridge import __version__
from bridge.cli import (
    audit,
    backup,
    boards,
    broker,
    capture,
    check,
    demo,
    doctor,
    handover,
    ports,
    replay,
    run,
    simulate,
    unit,
)

COMMANDS: tuple[ModuleType, ...] = (
    demo,
    check,
    boards,
    run,
    replay,
    capture,
    handover,
    audit,
    backup,
    simulate,
    broker,
    ports,
    doctor,
    unit,
)

FIRST = """What to do first:
  numbertaker demo                 see the whole job on simulated boards, with no hardware
  numbertaker check FOLDER         prove your own railway folder
  numbertaker run FOLDER           a live session with your boards
Every command explains itself: numbertaker COMMAND --help"""


def parser() -> argparse.ArgumentParser:
    """The command line, every command registered."""
    made = argparse.ArgumentParser(prog="numbertaker", description="Follows every train and wagon of a model railway.")
    made.add_argument("--version", action="version", version=f"numbertaker {__version__}")
    commands = made.add_subparsers(metavar="COMMAND", title="commands")
    for command in COMMANDS:
        command.add(commands)
    return made


def main(argv: list[str] | None = None) -> int:
    """Run one command; its exit status."""
    arguments = parser().parse_args(argv)
    run = getattr(arguments, "run", None)
    if run is None:
        print(FIRST)
        return 0
    return int(run(arguments))


if __name__ == "__main__":
    sys.exit(main())
