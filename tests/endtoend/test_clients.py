"""Fifty pages, ten of which have stopped reading: a sample. What hangs on the machine's load is printed and not judged.

The command is `tests/clients.py`, which judges rate and delay too.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .trial import trial


@pytest.mark.wires
@pytest.mark.slow
def test_pages_that_stop_reading_are_gone_in_time_and_nothing_is_lost(
    need: Callable[[str], str], figure: Callable[[str], None]
) -> None:
    need("mosquitto")
    trial("clients.py", "--rounds", "1", "--seconds", "9", "--within", "0", figure=figure)
