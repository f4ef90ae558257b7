"""What every test may ask for: a program of the system, which is a skip where it lacks and a failure on CI."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable

import pytest

PACKAGES = {"mosquitto_sub": "mosquitto-clients", "mosquitto_pub": "mosquitto-clients"}


def find_program(name: str) -> str:
    """The path of a program; without it the test is skipped and says what to install, and on CI it fails."""
    path = shutil.which(name)
    if path is None:
        reason = f"needs the program {name}: sudo apt-get install {PACKAGES.get(name, name)}"
        if os.environ.get("CI"):
            pytest.fail(f"{reason} (a skip of this kind is a failure on CI)", pytrace=False)
        pytest.skip(reason)
    return path


@pytest.fixture(scope="session")
def need() -> Callable[[str], str]:
    """`need("mosquitto")`: the path of the program, or the test ends here."""
    return find_program
