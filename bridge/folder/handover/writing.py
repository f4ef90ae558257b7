"""An offer that was agreed to, written into the folder.

Rule: a crash at any instant leaves whereabouts.csv whole, as it was or as it was agreed; nothing that stands in the folder
is lost: the old file is kept beside the new one, dated. Where a part cannot be written none is.
"""

from __future__ import annotations

import errno
import os
import secrets
import shutil
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from itertools import chain, count
from pathlib import Path

from bridge.folder.handover.offer import NEXT, WHEREABOUTS, Offer

AGAIN = "Then look again and agree again."
REMEDIES = {
    errno.ENOSPC: "Make room on the disk.",
    errno.EDQUOT: "Make room on the disk.",
    errno.EROFS: "The disk can only be read: make it one that can be written.",
    errno.EACCES: "Close it where it is open, in a spreadsheet for example, and see that the folder is yours to write.",
    errno.EPERM: "Close it where it is open, in a spreadsheet for example, and see that the folder is yours to write.",
}
NO_LINKS = (errno.EPERM, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS, errno.EMLINK)


class NotWrittenDownError(Exception):
    """Nothing was written; the message names the file, what happened and what to do."""


def write_down(folder: Path, offer: Offer, now: datetime) -> tuple[Path, ...]:
    """Write what was offered; the files made anew, whereabouts.csv last. Raises NotWrittenDownError.

    `now` dates what is kept. Nothing at all is written where all of it is there already.
    """
    target = folder / WHEREABOUTS
    made: list[Path] = []
    try:
        if offer.moves and not offer.has_moves:
            made.append(_put_beside(offer.moves, chain((folder / NEXT,), _dated(folder / NEXT, now))))
        if offer.found != offer.whereabouts:
            if offer.found is not None:
                made.append(_put_beside(offer.found, _dated(target, now)))
            _put_over(target, offer)
            return (*made, target)
    except (OSError, NotWrittenDownError) as error:
        for path in made:
            with suppress(OSError):
                path.unlink()
        if isinstance(error, OSError):
            raise NotWrittenDownError(_in_words(target, error)) from error
        raise
    return tuple(made)


def _put_beside(content: bytes, names: Iterator[Path]) -> Path:
    """A new file under the first of these names that is free: never over another."""
    path = next(names)
    written = _written(path, content)
    try:
        while not _named(written, path):
            path = next(names)
    finally:
        with suppress(OSError):
            written.unlink()
    return path


def _dated(path: Path, now: datetime) -> Iterator[Path]:
    stem = f"{path.stem} {now:%Y-%m-%d %H%M}"
    yield path.with_name(f"{stem}{path.suffix}")
    for n in count(2):
        yield path.with_name(f"{stem} {n}{path.suffix}")


def _named(written: Path, path: Path) -> bool:
    """Give a written file its name; False where something has that name already."""
    try:
        os.link(written, path)
    except FileExistsError:
        return False
    except OSError as error:
        if error.errno not in NO_LINKS:
            raise
        if path.exists():  # a disk without links, such as a card of a camera's kind
            return False
        written.rename(path)
    _settle(path.parent)
    return True


def _put_over(target: Path, offer: Offer) -> None:
    """The new file in place of the old, unless that is another than was looked at."""
    real = target.resolve()
    written = _written(real, offer.whereabouts)
    try:
        if offer.found is not None:
            shutil.copymode(real, written)
        if (real.read_bytes() if real.exists() else None) != offer.found:
            raise NotWrittenDownError(f"{target} has changed since it was looked at, so nothing is written over it. {AGAIN}")
        written.replace(real)
    except BaseException:
        with suppress(OSError):
            written.unlink()
        raise
    _settle(real.parent)


def _written(path: Path, content: bytes) -> Path:
    """The content on the disk, under a name that nobody reads, in the folder of `path`."""
    written = path.with_name(f".{path.name}.{secrets.token_hex(4)}.part")
    try:
        number = os.open(written, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
        with os.fdopen(number, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        with suppress(OSError):
            written.unlink()
        raise
    return written


def _settle(folder: Path) -> None:
    """See that a name in a folder lasts, as far as the system lets us: some see to that themselves and open no folders."""
    with suppress(OSError):
        number = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(number)
        finally:
            os.close(number)


def _in_words(target: Path, error: OSError) -> str:
    why = (error.strerror or str(error)).lower()
    remedy = REMEDIES.get(error.errno or 0, "See that the folder is yours to write.")
    return f"{target} could not be written ({why}): it is as it was. {remedy} {AGAIN}"
