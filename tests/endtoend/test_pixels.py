"""From an edge at a board to pixels: a short sample, printed and not judged, for how long it takes is the machine's affair.

The command is `tests/pixels.py`, which does several times as much unless told otherwise, and judges.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from .trial import trial


@pytest.mark.wires
@pytest.mark.slow
def test_how_long_an_edge_takes_to_the_page(need: Callable[[str], str], figure: Callable[[str], None]) -> None:
    need("mosquitto")
    need("chromium")
    trial("pixels.py", "--seconds", "5", "--within", "0", figure=figure)
