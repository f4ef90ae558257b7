"""A broker killed in the middle of it: nothing lost with the settings we write, every loss named with those it comes with.

A sample; `python3 tests/broker_kills.py --kills 50 --settings ours` is the whole of it.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

pytestmark = [pytest.mark.wires, pytest.mark.slow, pytest.mark.timeout(230)]

COMMAND = [sys.executable, str(Path(__file__).parent.parent / "broker_kills.py"), "--kills", "4"]
SETTINGS = ("ours", "stock")


@pytest.fixture(scope="module")
def told(need: Callable[[str], str]) -> dict[str, str]:
    """What the trial says of each settings file; both run at once."""
    need("mosquitto")
    running = {
        settings: subprocess.Popen(
            [*COMMAND, "--settings", settings], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        for settings in SETTINGS
    }
    said = {settings: process.communicate(timeout=220)[0] for settings, process in running.items()}
    assert {settings: process.returncode for settings, process in running.items()} == dict.fromkeys(SETTINGS, 0), said
    return said


def lost_and_named(text: str) -> tuple[int, int]:
    found = re.search(r"lost ([\d,]+), of these named ([\d,]+)", text)
    assert found is not None, text
    return int(found[1].replace(",", "")), int(found[2].replace(",", ""))


def test_with_our_settings_nothing_is_lost(told: dict[str, str], figure: Callable[[str], None]) -> None:
    assert lost_and_named(told["ours"]) == (0, 0)
    figure(" ".join(told["ours"].split()))


def test_with_those_it_comes_with_every_loss_is_named(told: dict[str, str], figure: Callable[[str], None]) -> None:
    lost, named = lost_and_named(told["stock"])
    assert lost == named > 0
    figure(" ".join(told["stock"].split()))
