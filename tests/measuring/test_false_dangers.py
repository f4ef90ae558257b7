"""Evenings on grown railways with few detectors and everyday noise: nothing is planted, so no danger is true.

Each of these evenings had dangers that were none while something was taken for plain that was not: a second shunt into a
track circuit, a token that another may have lifted, an engine that nobody could place. The seeds are ones for tuning.
"""

from __future__ import annotations

import pytest

from .alert_evenings import Plan, play
from .alerts import is_danger
from .cells import GROWN

EVENINGS = {702: "mouths", 717: "sidings"}


@pytest.mark.parametrize("seed", EVENINGS)
def test_a_quiet_evening_with_few_detectors_raises_no_danger(seed: int) -> None:
    played = play(Plan(GROWN, seed))
    assert (played.why, played.failed, played.layout) == ("", "", EVENINGS[seed])
    assert [each.text for each in played.alerts.false if is_danger(each.kind)] == []
