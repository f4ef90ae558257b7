"""A new folder is written whole or not at all, and never over a file that is there."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bridge.folder import load
from bridge.folder.making import NotMadeError, Sketch, in_the_way, made, place

from .sketches import small

TEXTS = made(Sketch.model_validate(small())).texts
STEPS = ("open", "fdopen", "fsync", "link", "rename", "mkdir")


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_a_folder_is_made_where_there_is_none(tmp_path: Path) -> None:
    folder = tmp_path / "club" / "alder vale"
    assert [path.name for path in place(folder, TEXTS)] == list(TEXTS)
    assert (names(folder), names(folder.parent)) == (set(TEXTS), {"alder vale"})
    assert load(folder).railway is not None


def test_a_folder_that_is_there_keeps_what_is_in_it(tmp_path: Path) -> None:
    (tmp_path / "evenings.store").write_bytes(b"kept")
    place(tmp_path, TEXTS)
    assert names(tmp_path) == {*TEXTS, "evenings.store"}
    assert (tmp_path / "evenings.store").read_bytes() == b"kept"
    assert load(tmp_path).railway is not None


@pytest.mark.parametrize("file", sorted(TEXTS))
def test_nothing_is_written_over_a_file_that_is_there(tmp_path: Path, file: str) -> None:
    (tmp_path / file).write_text("mine")
    assert in_the_way(tmp_path) == (file,)
    with pytest.raises(NotMadeError, match=f"there is {file} already"):
        place(tmp_path, TEXTS)
    assert (names(tmp_path), (tmp_path / file).read_text()) == ({file}, "mine")


def test_a_link_that_leads_nowhere_is_in_the_way_too(tmp_path: Path) -> None:
    (tmp_path / "stock.csv").symlink_to(tmp_path / "elsewhere.csv")
    with pytest.raises(NotMadeError):
        place(tmp_path, TEXTS)
    assert not (tmp_path / "elsewhere.csv").exists()


def test_a_file_in_the_place_of_the_folder_is_told(tmp_path: Path) -> None:
    (tmp_path / "alder").write_text("mine")
    with pytest.raises(NotMadeError, match="could not be written"):
        place(tmp_path / "alder", TEXTS)
    assert (names(tmp_path), (tmp_path / "alder").read_text()) == ({"alder"}, "mine")


class Killed(BaseException):
    """The program ends here."""


def test_a_disk_without_links_does_as_well(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_links(*_: Any) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", no_links)
    place(tmp_path, TEXTS)
    place(tmp_path / "another", TEXTS)
    assert names(tmp_path) == {*TEXTS, "another"}
    assert names(tmp_path / "another") == set(TEXTS)


@pytest.mark.parametrize("is_there", [True, False])
@pytest.mark.parametrize("error", [lambda: OSError(errno.ENOSPC, "No space left on device"), Killed])
def test_a_step_that_fails_leaves_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, is_there: bool, error: Callable[[], BaseException]
) -> None:
    """Every step on the disk fails in turn."""
    for at in range(1, 200):
        folder = tmp_path / f"{at}" / "alder"
        (folder if is_there else folder.parent).mkdir(parents=True)
        with monkeypatch.context() as patch:
            steps = fail_at(patch, at, error)
            try:
                place(folder, TEXTS)
            except (NotMadeError, Killed) as told:
                if isinstance(told, NotMadeError):
                    assert "Make room on the disk." in str(told)
            if len(steps) < at:  # all steps have been tried: this time none failed
                assert at > 10
                assert load(folder).railway is not None
                return
        left = names(folder) if folder.exists() else set()
        assert left in (set(), set(TEXTS)), at
        assert names(folder.parent) <= {"alder"}, at
    pytest.fail("it never got through")


def fail_at(patch: pytest.MonkeyPatch, at: int, error: Callable[[], BaseException]) -> list[str]:
    """Let the `at`th step fail before it is done; the steps as they were tried."""
    tried: list[str] = []

    def failing(name: str) -> None:
        real = getattr(os, name)

        def step(*given: Any, **more: Any) -> Any:
            if name == "open" and not given[1] & os.O_CREAT:
                return real(*given, **more)  # a folder that is opened to see that its names last
            tried.append(name)
            if len(tried) == at:
                raise error()
            return real(*given, **more)

        patch.setattr(os, name, step)

    for name in STEPS:
        failing(name)
    return tried
