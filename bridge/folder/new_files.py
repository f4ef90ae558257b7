"""New files in a folder: on the disk before they get their name, and never over one that is there.

Rule: a name is given last, at one stroke; a crash at any instant leaves no file that is only half written.
"""

from __future__ import annotations

import errno
import os
import secrets
from contextlib import suppress
from pathlib import Path

NO_LINKS = (errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK)
NOT_YOURS = "Close it where it is open, in a spreadsheet for example, and see that the folder is yours to write."
REMEDIES = {
    errno.ENOSPC: "Make room on the disk.",
    errno.EDQUOT: "Make room on the disk.",
    errno.EROFS: "The disk can only be read: make it one that can be written.",
    errno.EACCES: NOT_YOURS,
    errno.EPERM: NOT_YOURS,
}


def written(path: Path, content: bytes) -> Path:
    """The content on the disk, under a name that nobody reads, in the folder of `path`. Raises OSError."""
    part = part_of(path)
    try:
        number = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with os.fdopen(number, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    return part


def part_of(path: Path) -> Path:
    """A name beside `path` that nobody reads, for what is to become it."""
    return path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")


def named(part: Path, path: Path) -> bool:
    """Give a written file its name; False where something has that name already. Raises OSError."""
    try:
        os.link(part, path)
    except FileExistsError:
        return False
    except OSError as error:
        if error.errno not in NO_LINKS:
            raise
        if path.exists():  # a disk without links, such as a card of a camera's kind
            return False
        part.rename(path)
    settle(path.parent)
    return True


def settle(folder: Path) -> None:
    """See that a name in a folder lasts, as far as the system lets us: some see to that themselves and open no folders."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def remedy_for(error: OSError) -> str:
    """What to do where a file could not be written."""
    return REMEDIES.get(error.errno or 0, "See that the folder is yours to write.")
