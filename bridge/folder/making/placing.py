"""The texts of a new folder, put on the disk.

Rule: whole or not at all, and never over a file that is there. railway.toml comes last: without it a folder is none.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path

from bridge.folder.finding import FILES
from bridge.folder.new_files import named, part_of, remedy_for, settle, written


class NotMadeError(Exception):
    """Nothing was written; the message says why, and what to do."""


def in_the_way(folder: Path) -> tuple[str, ...]:
    """The names of files in a folder over which nothing may be written."""
    return tuple(name for name in FILES if (folder / name).exists() or (folder / name).is_symlink())


def place(folder: Path, texts: Mapping[str, str]) -> tuple[Path, ...]:
    """Write the texts, by file name, into a folder, which is made where it is not there. Raises NotMadeError."""
    contents = {name: texts[name].encode() for name in reversed(FILES) if name in texts}
    try:
        _tell_in_the_way(folder)
        if folder.is_dir():
            _into(folder, contents)
        else:
            _anew(folder, contents)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise NotMadeError(f"{folder} could not be written ({why}): nothing was. {remedy_for(error)}") from error
    return tuple(folder / name for name in FILES if name in contents)


def _tell_in_the_way(folder: Path) -> None:
    there = in_the_way(folder)
    if there:
        files = ", ".join(there)
        raise NotMadeError(
            f"In {folder} there is {files} already, and nothing is written over it. Move it elsewhere, or go on by hand."
        )


def _into(folder: Path, contents: Mapping[str, bytes]) -> None:
    """Into a folder that is there, perhaps with other things in it."""
    parts: dict[Path, Path] = {}
    try:
        for name, content in contents.items():
            parts[folder / name] = written(folder / name, content)
        for path, part in parts.items():
            if not named(part, path):
                raise NotMadeError(f"{path} has just been made by somebody else, so nothing was written. Look again.")
    except BaseException:
        _unlink(path for path, part in parts.items() if _is_named(part, path))
        raise
    finally:
        _unlink(parts.values())


def _is_named(part: Path, path: Path) -> bool:
    """Whether a name was given to what was written, by a link or for good."""
    return path.exists() and (not part.exists() or path.samefile(part))


def _anew(folder: Path, contents: Mapping[str, bytes]) -> None:
    """As a folder that gets its name once everything stands in it."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    made = part_of(folder)
    made.mkdir()
    try:
        for name, content in contents.items():
            named(written(made / name, content), made / name)
        for part in made.glob(".*.part"):
            part.unlink()
        made.rename(folder)
    finally:
        shutil.rmtree(made, ignore_errors=True)
    settle(folder.parent)


def _unlink(paths: Iterable[Path]) -> None:
    for path in paths:
        with suppress(OSError):
            path.unlink()
