"""The railway folder, in a line: `numbertaker check` says the rest.

Rule: a password that others may read is named, and never printed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

from bridge.folder import FolderRead
from bridge.service.examining.finding import Finding, advice, fault, good


def folder_findings(folder: Path, read: FolderRead, password: Path) -> Iterator[Finding]:
    """How many faults and conflicts a folder has, and whether the broker's password is where it belongs."""
    counts = Counter(finding.level for finding in read.findings)
    named = f"`numbertaker check {folder}` names them, with remedies."
    if counts["fault"]:
        yield fault(f"The railway folder {folder} has faults ({counts['fault']}): it cannot be taken.", named)
    elif counts["conflict"]:
        said = f"The railway folder {folder} has conflicts ({counts['conflict']}): it cannot be worked as written."
        yield advice(said, named)
    else:
        yield good(f"The railway folder {folder} is in order.")
    if read.broker is not None and read.broker.user is not None and not password.is_file():
        yield fault(
            f"railway.toml names the user {read.broker.user} for the broker, and there is no file {password}.",
            "Write the password into it, or let `numbertaker broker` make one.",
        )
    if password.is_file() and password.stat().st_mode & 0o077:
        yield advice(f"Other users of this machine may read {password}.", f"chmod 600 {password}")
