"""A railway folder named on the command line: read, and refused with its faults where it has any."""

from __future__ import annotations

import sys
from pathlib import Path

from bridge.cli.check import shown
from bridge.folder import FolderRead, load


def taken(path: Path) -> FolderRead | None:
    """The folder, or None where it has faults; faults and conflicts are said on stderr, advice is left to `check`."""
    read = load(path)
    tell_refused(path, read)
    return None if read.railway is None else read


def tell_refused(path: Path, read: FolderRead) -> None:
    """Say on stderr which faults and conflicts a folder has."""
    told = [finding for finding in read.findings if finding.level != "advice"]
    if told:
        print(f"{path}:\n{shown(told)}", file=sys.stderr, flush=True)
