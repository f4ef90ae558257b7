"""An agreement written into the folder: whole or not at all, whatever happens to disk, program and files meanwhile."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from bridge.folder import load
from bridge.folder.handover import NotWrittenDownError, Offer, offered, write_down

from .evenings import ended, files, lay_out

NOW = datetime(2026, 11, 26, 21, 14, 37)
KEPT = "whereabouts 2026-11-26 2114.csv"
MOVED = {"w5": ("marrow.loop", 1)}
STEPS = ("open", "fdopen", "fsync", "link", "replace", "rename", "unlink")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return lay_out(tmp_path / "oxlip", files())


def offer_of(folder: Path, **how: Any) -> Offer:
    return offered(folder, ended(files(), **{"places": MOVED, "states": ["failed", "done"], **how}))


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_the_old_file_is_kept_beside_the_new_one_and_moves_get_a_file_of_their_own(folder: Path) -> None:
    offer = offer_of(folder)
    made = write_down(folder, offer, NOW)
    assert [path.name for path in made] == ["moves next.csv", KEPT, "whereabouts.csv"]
    assert names(folder) == {*files(), KEPT, "moves next.csv"}
    assert (folder / KEPT).read_bytes() == files()["whereabouts.csv"]
    assert (folder / "moves.csv").read_bytes() == files()["moves.csv"]
    assert (folder / "whereabouts.csv").read_bytes() == offer.whereabouts != files()["whereabouts.csv"]
    assert load(folder).railway is not None
    again = offer_of(folder)
    assert (again.is_written, again.why_not, write_down(folder, again, NOW)) == (True, None, ())


def test_nothing_that_is_there_already_is_written_over(folder: Path) -> None:
    for name in (KEPT, "moves next.csv", "moves next 2026-11-26 2114.csv"):
        (folder / name).write_text("kept by somebody")
    made = write_down(folder, offer_of(folder), NOW)
    assert [path.name for path in made] == [
        "moves next 2026-11-26 2114 2.csv", "whereabouts 2026-11-26 2114 2.csv", "whereabouts.csv",
    ]  # fmt: skip
    for name in (KEPT, "moves next.csv", "moves next 2026-11-26 2114.csv"):
        assert (folder / name).read_text() == "kept by somebody"


def test_a_disk_without_links_does_as_well(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_: Any) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    (folder / KEPT).write_text("kept by somebody")
    made = write_down(folder, offer_of(folder), NOW)
    assert [path.name for path in made][1:] == ["whereabouts 2026-11-26 2114 2.csv", "whereabouts.csv"]
    assert (folder / KEPT).read_text() == "kept by somebody"
    assert not [name for name in names(folder) if name.endswith(".part")]


class Killed(BaseException):
    """The program ends here."""


def breaking(monkeypatch: pytest.MonkeyPatch, at: int, error: Callable[[], BaseException], done: bool) -> Iterator[int]:
    """Let the `at`th step on the disk fail, before it is `done` or behind; says how many steps there were."""
    count = 0

    def stepping(real: Callable[..., Any]) -> Callable[..., Any]:
        def step(*words: Any, **named: Any) -> Any:
            nonlocal count
            count += 1
            if count != at:
                return real(*words, **named)
            if done:
                real(*words, **named)
            raise error()

        return step

    with monkeypatch.context() as patched:
        for name in STEPS:
            patched.setattr(os, name, stepping(getattr(os, name)))
        yield count
    yield count


@pytest.mark.parametrize("done", [False, True])
def test_a_crash_at_any_step_leaves_the_old_file_or_the_new_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, done: bool
) -> None:
    offer = offer_of(lay_out(tmp_path / "looked-at", files()))
    found: list[bool] = []
    for at in range(1, 100):
        folder = lay_out(tmp_path / f"{at}", files())
        steps = breaking(monkeypatch, at, Killed, done)
        next(steps)
        try:
            write_down(folder, offer, NOW)
        except Killed:
            pass
        else:
            assert next(steps) == at - 1
            break
        finally:
            steps.close()
            monkeypatch.undo()
        content = (folder / "whereabouts.csv").read_bytes()
        assert content in (offer.found, offer.whereabouts)
        kept = folder / KEPT
        assert content == offer.found or kept.read_bytes() == offer.found
        assert not kept.exists() or kept.read_bytes() == offer.found
        following = folder / "moves next.csv"
        assert not following.exists() or following.read_bytes() == offer.moves
        found.append(content == offer.whereabouts)
    assert len(found) > 12, "so many steps there are at least"
    assert found == sorted(found), "once it is the new one it stays so"
    assert {True, False} == set(found)


@pytest.mark.parametrize(
    ("number", "remedy"),
    [(errno.ENOSPC, "Make room"), (errno.EROFS, "can only be read"), (errno.EACCES, "Close it where it is open")],
)
def test_where_a_step_is_refused_nothing_is_written_and_that_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, remedy: str
) -> None:
    offer = offer_of(lay_out(tmp_path / "looked-at", files()))
    tried = 0
    for at in range(1, 100):
        folder = lay_out(tmp_path / f"{at}", files())
        steps = breaking(monkeypatch, at, lambda: OSError(number, os.strerror(number)), False)
        next(steps)
        try:
            write_down(folder, offer, NOW)
        except NotWrittenDownError as error:
            assert str(folder / "whereabouts.csv") in str(error)
            assert remedy in str(error)
        else:
            assert (folder / "whereabouts.csv").read_bytes() == offer.whereabouts, "a step that it can do without"
            if next(steps) < at:
                break
            continue
        finally:
            steps.close()
            monkeypatch.undo()
        tried += 1
        assert (folder / "whereabouts.csv").read_bytes() == offer.found
        assert {name for name in names(folder) if not name.endswith(".part")} == set(files())
    assert tried > 8


def test_a_file_that_changes_after_it_was_looked_at_is_not_written_over(folder: Path) -> None:
    offer = offer_of(folder)
    (folder / "whereabouts.csv").write_text("vehicle,road,order\n")
    with pytest.raises(NotWrittenDownError, match=r"whereabouts\.csv has changed since it was looked at.*look again"):
        write_down(folder, offer, NOW)
    assert names(folder) == set(files())
    assert (folder / "whereabouts.csv").read_text() == "vehicle,road,order\n"


@pytest.mark.skipif(os.name == "nt" or os.getuid() == 0, reason="root writes everywhere")
def test_a_folder_that_can_only_be_read(folder: Path) -> None:
    offer = offer_of(folder)
    folder.chmod(0o555)
    try:
        with pytest.raises(NotWrittenDownError, match="yours to write"):
            write_down(folder, offer, NOW)
    finally:
        folder.chmod(0o755)
    assert names(folder) == set(files())


def test_a_link_to_the_file_stays_one_and_the_file_keeps_who_may_read_it(folder: Path, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.csv"
    (folder / "whereabouts.csv").rename(elsewhere)
    elsewhere.chmod(0o640)
    (folder / "whereabouts.csv").symlink_to(elsewhere)
    offer = offer_of(folder)
    write_down(folder, offer, NOW)
    assert (folder / "whereabouts.csv").is_symlink()
    assert elsewhere.read_bytes() == offer.whereabouts
    assert elsewhere.stat().st_mode & 0o777 == 0o640
