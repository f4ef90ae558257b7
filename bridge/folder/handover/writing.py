"""An offer that was agreed to, written into the folder.

Rule: a crash at any instant leaves whereabouts.csv whole, as it was or as it was agreed; nothing that stands in the folder
is lost: the old file is kept beside the new one, dated. Where a part cannot be written none is.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from itertools import chain, count
from pathlib import Path

from bridge.folder.handover.offer import NEXT, WHEREABOUTS, Offer
from bridge.folder.new_files import named, remedy_for, settle, written

AGAIN = "Then look again and agree again."


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
    part = written(path, content)
    try:
        while not named(part, path):
            path = next(names)
    finally:
        with suppress(OSError):
            part.unlink()
    return path


def _dated(path: Path, now: datetime) -> Iterator[Path]:
    stem = f"{path.stem} {now:%Y-%m-%d %H%M}"
    yield path.with_name(f"{stem}{path.suffix}")
    for n in count(2):
        yield path.with_name(f"{stem} {n}{path.suffix}")


def _put_over(target: Path, offer: Offer) -> None:
    """The new file in place of the old, unless that is another than was looked at."""
    real = target.resolve()
    part = written(real, offer.whereabouts)
    try:
        if offer.found is not None:
            shutil.copymode(real, part)
        if (real.read_bytes() if real.exists() else None) != offer.found:
            raise NotWrittenDownError(f"{target} has changed since it was looked at, so nothing is written over it. {AGAIN}")
        part.replace(real)
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    settle(real.parent)


def _in_words(target: Path, error: OSError) -> str:
    why = (error.strerror or str(error)).lower()
    return f"{target} could not be written ({why}): it is as it was. {remedy_for(error)} {AGAIN}"
