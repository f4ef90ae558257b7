"""A railway that nobody has built, written as a folder: for `simulate --grow`.

Rule: a folder that holds a railway already is left as it is.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from bridge.cli.printing import complain
from bridge.virtual.growing.growth import large
from bridge.virtual.growing.railway import grow

FEWEST, MOST = 2, 500


def stations(text: str) -> int:
    """How many stations, from the command line."""
    if not text.isdecimal() or not FEWEST <= int(text) <= MOST:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of stations: {FEWEST} to {MOST}")
    return int(text)


def minutes(text: str) -> float:
    """How many minutes of a session, from the command line; more than 0."""
    try:
        found = float(text)
    except ValueError:
        found = 0.0
    if not 0.0 < found < 1e6:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of minutes, for example 10")
    return found


def grown_folder(count: int, seed: int, where: Path) -> Path | None:
    """Write the folder of a large railway and print where; None, with the reason on stderr, where that cannot be."""
    grown = grow(seed, large(count))
    try:
        where.mkdir(parents=True, exist_ok=True)
        there = next((name for name in grown.texts if (where / name).exists()), None)
        if there is not None:
            complain("simulate", f"{where / there} is there already: name another folder for the grown railway.")
            return None
        for name, text in grown.texts.items():
            (where / name).write_text(text, encoding="utf-8")
    except OSError as error:
        complain("simulate", f"{error.filename} cannot be written: {error.strerror}.")
        return None
    print(where)
    return where
