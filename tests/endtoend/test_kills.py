"""The bridge killed 25 times over 5,000 reports: nothing lost, nothing twice, the register as if nobody had.

The trial is a command (`tests/kills.py`), which does twenty times as much unless told otherwise. The session clock stands
still while the bridge is down, and the trains of the trial do not: on a machine with far too much to do trains may leave
early by that clock, rightly told, and the evening is another. So one of the evenings here is told and not judged.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .trial import trial


@pytest.mark.wires
@pytest.mark.slow
@pytest.mark.timeout(600)
def test_nothing_acknowledged_is_lost_and_nothing_counts_twice(
    need: Callable[[str], str], figure: Callable[[str], None]
) -> None:
    need("mosquitto")
    trial("kills.py", "--kills", "25", "--reports", "5000", "--unequal", "1", figure=figure)
