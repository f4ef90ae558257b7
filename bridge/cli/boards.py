"""`numbertaker boards`: what is wired to each board, by the railway folder; and the settings of its firmware.

Rule: the folder is the one place in which it is written down what an input means; nobody has to copy it by hand.
"""

from __future__ import annotations

import argparse
import difflib
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from bridge.cli.board_settings import DoesNotFitError, detectors_of, place_of, settings_of, what_on_means
from bridge.cli.folders import taken
from bridge.cli.printing import complain, printed
from bridge.core.plant import Board, Detector, Plant

HELP = "each board with its inputs, named from the folder; settings for its firmware"
EPILOG = """example:
  numbertaker boards my-railway
  numbertaker boards my-railway --json
  numbertaker boards my-railway --settings alder > firmware_notes/avr-board/settings.h

The settings are those of the firmware in firmware_notes/avr-board: pins in order, each with its detector beside it.
With --json one object a line, a board each.
Exit status: 1 where the folder has faults or the board has more than that firmware takes, 2 on wrong usage."""

WIDEST = 40
"""Letters of a column; what is longer sets its own row askew, not all others."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "boards", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder in which railway.toml stands")
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--settings", metavar="BOARD", help="print settings.h for this board's firmware")
    what.add_argument("--json", action="store_true", help="one object a line, for programs")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print boards or settings; 1 where the folder or the board cannot be taken, 2 where there is no such board."""
    read = taken(arguments.folder)
    if read is None or read.railway is None:
        return 1
    plant = read.railway.plant
    if arguments.settings is not None:
        return _print_settings(plant, arguments.settings)
    with printed():
        for n, board in enumerate(plant.boards.values()):
            print(json.dumps(_as_dict(plant, board)) if arguments.json else "\n".join(_shown(plant, board, n > 0)))
    if not plant.boards:
        complain("boards", "This railway has no boards: write a [[board]] in railway.toml, and detectors that name it.")
    return 0


def _print_settings(plant: Plant, board: str) -> int:
    if board not in plant.boards:
        close = difflib.get_close_matches(board, plant.boards, 1)
        hint = f"The nearest is {close[0]}." if close else f"There are: {', '.join(plant.boards) or 'none'}."
        complain("boards", f"This railway has no board {board}. {hint}")
        return 2
    try:
        text = settings_of(plant, board)
    except DoesNotFitError as error:
        complain("boards", str(error))
        return 1
    with printed():
        print(text, end="")
    return 0


def _as_dict(plant: Plant, board: Board) -> dict[str, Any]:
    return {
        "board": board.id,
        "link": board.link,
        "port": board.port,
        "inputs": [
            {
                "input": detector.input,
                "detector": detector.id,
                "kind": detector.kind,
                "place": place_of(detector),
                "on": what_on_means(detector),
            }
            for detector in detectors_of(plant, board.id)
        ],
    }


def _shown(plant: Plant, board: Board, apart: bool) -> Iterator[str]:
    detectors = detectors_of(plant, board.id)
    if apart:
        yield ""
    number = "1 input" if len(detectors) == 1 else f"{len(detectors)} inputs"
    yield f"{board.id}: {board.link}{f' at {board.port}' if board.port else ''}, {number}"
    rows = [(str(d.input), d.id, str(d.kind), place_of(d), _on(d)) for d in detectors]
    widths = [min(max(map(len, column)), WIDEST) for column in zip(*rows, strict=True)]
    for first, *others in rows:
        cells = [first.rjust(widths[0]), *(cell.ljust(width) for cell, width in zip(others, widths[1:], strict=True))]
        yield f"  {'  '.join(cells)}".rstrip()


def _on(detector: Detector) -> str:
    meaning = what_on_means(detector)
    return "tells tags" if meaning is None else f"on: {meaning}"
