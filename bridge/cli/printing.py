"""Results on stdout: UTF-8 for other programs whatever the terminal thinks, and no fuss when the reader leaves.

Rule: `numbertaker ... | head` is no error.
"""

from __future__ import annotations

import io
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

FLUSH_AFTER_S = 0.2


@contextmanager
def printed(to_person: bool = False) -> Iterator[None]:
    """While results are printed: stdout is UTF-8, and a reader that has had enough ends the printing quietly.

    Sentences `to_person` keep to the letters that the terminal has: one that it lacks must not end them.
    """
    if isinstance(sys.stdout, io.TextIOWrapper) and to_person:
        sys.stdout.reconfigure(errors="replace")
    elif isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(encoding="utf-8", errors="surrogateescape")
    try:
        yield
        sys.stdout.flush()
    except BrokenPipeError:
        # what is still in the buffer would raise again when Python ends
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class Printer:
    """Prints lines in blocks, yet never holds one back for long."""

    def __init__(self) -> None:
        self._flushed_at = time.monotonic()

    def line(self, text: str) -> None:
        """Print one line."""
        sys.stdout.write(text + "\n")
        now = time.monotonic()
        if now - self._flushed_at > FLUSH_AFTER_S:
            sys.stdout.flush()
            self._flushed_at = now


def complain(command: str, *sentences: str) -> None:
    """Say on stderr what is wrong."""
    for sentence in sentences:
        print(f"numbertaker {command}: {sentence}", file=sys.stderr, flush=True)
