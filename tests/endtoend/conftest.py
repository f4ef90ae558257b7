"""What whole sessions are tested with: the demonstration railway."""

from __future__ import annotations

import pytest

from bridge.cli.demo import demonstration
from bridge.folder import FolderRead, load
from bridge.virtual.staging import Stage, stage


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
    """Scripted evenings of the demonstration railway."""
    source = demonstration()
    assert source is not None
    assert folder.railway is not None
    return stage(folder.railway, source / "evening.script")
