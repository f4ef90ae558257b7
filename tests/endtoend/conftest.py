"""What whole sessions are tested with: the demonstration railway, and the figures that a run is to be told by.

Rule: a figure that a test measures is printed when all tests have run, so that it is seen to change.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from bridge.cli.demo import demonstration
from bridge.folder import FolderRead, load
from bridge.virtual.staging import Stage, stage

FIGURES = pytest.StashKey[list[str]]()


@pytest.fixture(scope="session")
def folder() -> FolderRead:
    """The folder of the demonstration railway."""
    source = demonstration()
    assert source is not None
    read = load(source)
    assert read.railway is not None
    return read


@pytest.fixture(scope="session")
def stages(folder: FolderRead) -> Stage:
    """What evenings of the demonstration railway are made of."""
    source = demonstration()
    assert source is not None
    assert folder.railway is not None
    return stage(folder.railway, source)


@pytest.fixture(scope="session")
def figure(pytestconfig: pytest.Config) -> Callable[[str], None]:
    """`figure("what was measured")`: printed at the end."""
    return pytestconfig.stash.setdefault(FIGURES, []).append


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    for line in config.stash.get(FIGURES, []):
        terminalreporter.write_line(f"measured: {line}")
