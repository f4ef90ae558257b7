"""What every test may ask for: a program of the system, which is a skip where it lacks and a failure on CI; a browser;
figures that are measured, printed when all tests have run, so that they are seen to change.

Tests with the mark `slow` run on CI, and where pytest is told `-m slow`. The files that take longest come first: begun
last, one of them would keep one core busy while the others have nothing left to do.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import settings

settings.register_profile("same-each-time", derandomize=True, deadline=None)
if os.environ.get("CI"):  # elsewhere each run tries other examples; on CI a change is not held up by what it did not touch
    settings.load_profile("same-each-time")

LONGEST = (
    "endtoend/test_soak.py",
    "endtoend/test_wires.py",
    "endtoend/test_kills.py",
    "measuring/test_benchmark.py",
    "core/test_every_order.py",
    "dashboard/test_page_drawing.py",
    "wire/test_torture.py",
    "core/test_flickers.py",
    "dashboard/test_page_frame.py",
    "endtoend/test_broker_killed.py",
    "endtoend/test_command.py",
    "endtoend/test_clients.py",
    "service/test_filled.py",
    "service/test_calming.py",
    "links/test_mqtt.py",
    "test_frame.py",
    "endtoend/test_pixels.py",
    "endtoend/test_firmware.py",
    "endtoend/test_mistakes.py",
    "endtoend/test_mishaps.py",
    "virtual/test_crew_mistakes.py",
    "core/retold/test_hindsight.py",
)
"""Files whose tests take longest, the longest first."""

FIGURES = pytest.StashKey[list[str]]()
BROWSER = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
BROWSER += ["--host-resolver-rules=MAP phone.example 127.0.0.1"]  # this machine under a name that is not its own
PACKAGES = {
    "mosquitto_sub": "mosquitto-clients",
    "mosquitto_pub": "mosquitto-clients",
    "avr-gcc": "gcc-avr avr-libc",
    "avr-g++": "gcc-avr avr-libc",
    "avr-size": "binutils-avr",
    "simavr-headers": "libsimavr-dev libelf-dev",
}


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


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """A real browser, as long as tests of one file want it: while it runs, no other event loop can in this process."""
    program = find_program("chromium")
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as runner:
        started = runner.chromium.launch(executable_path=program, args=BROWSER)
        yield started
        started.close()


@pytest.fixture(scope="session")
def figure(pytestconfig: pytest.Config) -> Callable[[str], None]:
    """`figure("what was measured")`: printed at the end."""
    return pytestconfig.stash.setdefault(FIGURES, []).append


def pytest_configure(config: pytest.Config) -> None:
    if hasattr(config.option, "loadscopereorder"):  # else the files with most tests are begun first, be they short or long
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    place = {Path(__file__).parent / name: n for n, name in enumerate(LONGEST)}
    items.sort(key=lambda item: place.get(item.path, len(LONGEST)))


def pytest_sessionfinish(session: pytest.Session) -> None:
    if hasattr(session.config, "workeroutput"):  # one of several that share the tests out
        session.config.workeroutput["figures"] = session.config.stash.get(FIGURES, [])


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """Figures of one of them."""
    node.config.stash.setdefault(FIGURES, []).extend(getattr(node, "workeroutput", {}).get("figures", ()))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    for line in config.stash.get(FIGURES, []):
        terminalreporter.write_line(f"measured: {line}")


def pytest_runtest_setup(item: pytest.Item) -> None:
    if item.get_closest_marker("slow") and not os.environ.get("CI") and "slow" not in item.config.getoption("-m"):
        pytest.skip("slow: runs on CI, and with -m slow")
