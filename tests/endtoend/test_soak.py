"""Ten days of evenings with everything that goes wrong: nothing grows, nothing leaks, no train that is not there.

The trial is a command (`tests/soak.py`), which does a hundred times as much unless told otherwise.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .trial import trial


@pytest.mark.slow
@pytest.mark.timeout(600)
def test_ten_days_leave_nothing_behind(figure: Callable[[str], None]) -> None:
    trial("soak.py", "--days", "10", "--reports", "100000", figure=figure)
