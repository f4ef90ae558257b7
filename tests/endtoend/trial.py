"""A trial that is a command of its own, run at a size for every day.

Rule: what it prints are figures of the run; what it finds wrong is the test's failure, word for word.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

TESTS = Path(__file__).parent.parent


def trial(name: str, *words: str, figure: Callable[[str], None]) -> None:
    """Run a command of `tests/`; its exit status has to be 0."""
    run = subprocess.run([sys.executable, str(TESTS / name), *words], capture_output=True, text=True, check=False)
    for line in run.stdout.splitlines():
        figure(f"{name}: {line.strip()}")
    assert run.returncode == 0, run.stdout + run.stderr
