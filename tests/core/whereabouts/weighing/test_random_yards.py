"""Whatever is told of whatever yard: nothing breaks, nothing is lost or doubled, and a fold goes on as if never put away."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from . import random_yards

TENTHS = 10
YARDS = 150
PROCESS_YARDS = 15


@pytest.mark.parametrize("tenth", range(TENTHS))
def test_random_yards_stay_sound(tenth: int) -> None:
    for seed in range(tenth, YARDS, TENTHS):
        random_yards.try_yard(seed)


def test_two_processes_come_to_the_same_to_the_last_digit(tmp_path: Path) -> None:
    """Half the evidence in one, saved, and the rest in another, each with an order of sets of its own."""
    evenings = [random_yards.Evening(seed) for seed in range(PROCESS_YARDS)]

    def told(what: str, hash_seed: str) -> list[str]:
        command = [sys.executable, random_yards.__file__, "--yards", str(PROCESS_YARDS), "--seed", "0"]
        done = subprocess.run(
            [*command, what, str(tmp_path / "half")],
            env={**os.environ, "PYTHONHASHSEED": hash_seed},
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        )
        return done.stdout.split()

    halves = [random_yards.Fold(each).take(each.told[: len(each.told) // 2]).digest() for each in evenings]
    wholes = [random_yards.Fold(each).take(each.told).digest() for each in evenings]
    assert told("--half", "1") == told("--half", "2") == halves
    assert told("--rest", "3") == told("--rest", "4") == wholes
