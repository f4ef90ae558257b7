"""What ends a command that serves until it is told to stop.

Rule: asked once it stops cleanly, asked again at once.
"""

from __future__ import annotations

import signal
from collections.abc import Callable


def stop_on_signals(*stops: Callable[[], None]) -> None:
    """Call all of `stops` on SIGINT or SIGTERM; a second one ends the process at once."""

    def asked(number: int, _frame: object) -> None:
        signal.signal(number, signal.SIG_DFL)
        for stop in stops:
            stop()

    for number in (signal.SIGINT, signal.SIGTERM):
        signal.signal(number, asked)


def signals_as_usual() -> None:
    """From here on a signal ends the process as it does where nothing was said."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
