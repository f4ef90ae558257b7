"""The bridge killed fifty times over ten thousand reports: nothing lost, nothing twice, the register as if nobody had.

The trial is a command (`tests/kills.py`), which does ten times as much unless told otherwise.
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
    trial("kills.py", "--kills", "50", "--reports", "10000", figure=figure)
