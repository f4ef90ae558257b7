"""What whole sessions are tested with: the demonstration railway."""

from __future__ import annotations

import pytest

from bridge.folder import FolderRead
from bridge.virtual.staging import Stage

from . import demonstration


@pytest.fixture(scope="session")
def folder() -> FolderRead:
    """The folder of the demonstration railway."""
    return demonstration.read()


@pytest.fixture(scope="session")
def stages() -> Stage:
    """Scripted evenings of the demonstration railway."""
    return demonstration.scripted()
