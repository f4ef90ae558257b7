"""Disks of a few megabytes that a test may fill: a file system in a file, or one in memory.

Mounting takes the rights of root; without them the tests that ask for such a disk are skipped, and those with a quota of
SQLite's own, or of the system for a process, stand for them.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path

import pytest

MEGABYTES = 6


@dataclass(frozen=True)
class SmallDisk:
    """A disk of its own; `image` is the file that it lies in, None where it lies in memory."""

    path: Path
    image: Path | None

    def fill(self) -> None:
        """Take all the room that is left."""
        with suppress(OSError), (self.path / "filler").open("ab", buffering=0) as file:
            for size in (1 << 20, 1 << 12, 1 << 9, 1):
                with suppress(OSError):
                    while file.write(b"\0" * size):
                        pass

    def free(self) -> None:
        """Give it back."""
        (self.path / "filler").unlink(missing_ok=True)

    def forbid(self) -> None:
        """Mount it so that nothing can be written, which no system does while a file on it is open for writing."""
        _run("mount", "-o", "remount,ro", str(self.path))

    def allow(self) -> None:
        """Mount it as it was."""
        _run("mount", "-o", "remount,rw", str(self.path))

    def fail(self) -> None:
        """What the system does to a disk whose errors it has seen: from here on it is read-only, and stays so."""
        _run("mount", "-o", "remount,abort", str(self.path))

    def bring_back(self) -> None:
        """Repaired, and mounted where it was, while those who had files open still have them on the failed one."""
        assert self.image is not None
        _run("umount", "--lazy", str(self.path))
        repaired = self.image.with_name("repaired")  # a device of its own: the system would take the failed one for it
        shutil.copyfile(self.image, repaired)
        _run("fsck.ext4", "-p", str(repaired), may_fail=True)  # it says with 1 that it has put something right
        _run("mount", "-o", "loop", str(repaired), str(self.path))


@contextmanager
def small_disk(kind: str, place: Path) -> Iterator[SmallDisk]:
    """A disk of this kind ("ext4", "tmpfs") while it is needed; the test is skipped where none may be mounted."""
    path, image = place / "disk", place / "image"
    path.mkdir()
    if kind == "ext4":
        with image.open("wb") as file:
            file.truncate(MEGABYTES << 20)
        _run("mkfs.ext4", "-q", "-F", str(image))
        _run("mount", "-o", "loop", str(image), str(path), is_needed=False)
    else:
        _run("mount", "-t", "tmpfs", "-o", f"size={MEGABYTES}m", "none", str(path), is_needed=False)
    try:
        yield SmallDisk(path, image if kind == "ext4" else None)
    finally:
        _run("umount", "--lazy", str(path))


def _run(*command: str, may_fail: bool = False, is_needed: bool = True) -> None:
    try:
        done = subprocess.run(command, check=False, capture_output=True, text=True, timeout=30)
    except FileNotFoundError:
        pytest.skip(f"needs the program {command[0]}")
    if done.returncode and not is_needed:
        pytest.skip(f"no disk may be mounted here: {' '.join(command)} ({done.stderr.strip()})")
    if done.returncode and not may_fail:
        pytest.fail(f"{' '.join(command)}: {done.stderr}")
