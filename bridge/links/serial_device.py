"""What the system knows of a port's device: where its path leads, who else has it open, why it does not open.

Rule: nothing in here opens a port or fails.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

BAUD = 115_200

_NO_DEVICE = (errno.ENOENT, errno.ENODEV, errno.ENXIO)
_NOT_ALLOWED = (errno.EACCES, errno.EPERM)
_IN_USE = (errno.EBUSY, errno.EAGAIN)  # EAGAIN: the lock of a program that opened it for itself alone, as this one does
_NO_HANDLES = (errno.EMFILE, errno.ENFILE)


def place_of(path: str) -> Path | None:
    """Where a path leads now: a link may come to lead to another device. None where the path is no file (any more)."""
    try:
        return Path(path).resolve(strict=True)
    except (OSError, RuntimeError, ValueError):  # RuntimeError: a link that leads in a circle; ValueError: no path at all
        return None


def holders(path: str) -> tuple[str, ...]:
    """Other programs that have this device open, such as "picocom (process 4711)".

    Only what /proc tells this user: empty on a system without it, and of another user's programs unless asked as root.
    """
    place = place_of(path)
    if place is None:
        return ()
    own = str(os.getpid())
    processes = [entry for entry in _entries(Path("/proc")) if entry.name.isdigit() and entry.name != own]
    return tuple(_program(process) for process in processes if _has_open(process, str(place)))


def why_not_open(path: str, error: Exception) -> str:
    """A sentence with its remedy for what opening this path has raised."""
    number = getattr(error, "errno", None)
    if number in _NO_DEVICE:
        return f"{path} is not there. Plug the board in: it is looked for all the time."
    if number in _NOT_ALLOWED:
        return (
            f"You may not open {path}. On Linux let this user into the group that owns it (ls -l {path}; most often "
            "dialout or uucp) and log in again."
        )
    if number in _IN_USE:
        others = holders(path)
        who = f"another program: {_list(others)}" if others else "another program"
        where = "" if others else ": a serial monitor, an upload, a second numbertaker"
        return f"{path} is in use by {who}. Close it there{where}."
    if number in _NO_HANDLES:
        return f"{path} cannot be opened: too many files are open on this machine. It is tried again all the time."
    return f"{path} could not be opened ({error}). It is tried again all the time; if it is no serial port, name another."


def why_shared(path: str, others: Sequence[str]) -> str:
    """A sentence with its remedy for a port from which two programs read."""
    who = _list(others) if others else "Another program"
    return f"{who} also reads from {path}, so lines are lost to it. Close it there, and leave the port to numbertaker."


def why_silent(path: str, board: str | None, is_named: bool) -> str:
    """A sentence with its remedy for an open port on which nobody speaks; `board` spoke there once."""
    if board is not None:
        return (
            f"{path} is open, but {board} says nothing there. Check its power and its cable; the port is closed and opened "
            "again from time to time."
        )
    if is_named:
        return f"{path} is open, but no board speaks there. Check its firmware, its cable, and that it sends at {BAUD} baud."
    return (
        f"No board spoke on {path}, so it is left alone. If a board is there, check its firmware and plug it in again, or "
        "name the port in railway.toml."
    )


def _list(programs: Sequence[str]) -> str:
    return " and ".join(programs)


def _entries(folder: Path) -> list[Path]:
    with suppress(OSError):  # a process that has ended, or is not ours to look into
        return list(folder.iterdir())
    return []


def _has_open(process: Path, device: str) -> bool:
    for handle in _entries(process / "fd"):
        with suppress(OSError):
            if str(handle.readlink()) == device:
                return True
    return False


def _program(process: Path) -> str:
    words: list[str] = []
    with suppress(OSError):
        words = (process / "cmdline").read_bytes().decode("utf-8", "replace").rstrip("\0").split("\0")
    return f"{_name(words) or 'a program'} (process {process.name})"


def _name(words: Sequence[str]) -> str:
    """What a person calls it: of a script its own name, of a command of ours which one it is."""
    if not words:
        return ""
    name = Path(words[0]).name
    rest = list(words[1:])
    if name.startswith("python"):
        while rest and rest[0].startswith("-") and rest[0] not in ("-m", "-c"):
            del rest[0]
        if rest[:1] == ["-m"] and len(rest) > 1:
            return rest[1]
        if rest and rest[0] != "-c":
            name = Path(rest.pop(0)).name
    return f"{name} {rest[0]}" if name == "numbertaker" and rest else name
