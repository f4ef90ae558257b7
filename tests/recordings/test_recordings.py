"""Every recording replays to what must be said of it, word for word; each kind is raised where the name says so.

A capture named for a kind of irregularity raises it; one named `near-` and a kind is nearly that, and must not.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from bridge.core.irregularities import KINDS

from .said import Row, all_said, read_lines, said_of, sessions
from .scenes import SCENES

HERE = Path(__file__).parent
CAPTURES = sorted(HERE.glob("*.capture"))
NOT_FROM_A_CAPTURE = {"rule-failed"}  # a rule that fails is a fault of the program: tests/core/test_asking.py


def kind_of(name: str) -> str | None:
    """The kind of irregularity that a capture's name begins with."""
    bare = name.removeprefix("near-")
    return next((kind for kind in KINDS if bare == kind or bare.startswith(f"{kind}-")), None)


def raised(rows: list[Row]) -> set[str]:
    return {row["kind"] for row in rows if row["says"] == "irregularity"}


@pytest.mark.parametrize("capture", CAPTURES, ids=lambda path: path.stem)
def test_it_says_what_it_must(capture: Path) -> None:
    assert said_of(capture.read_text(encoding="utf-8")) == read_lines(capture.with_suffix(".expected.jsonl"))


@pytest.mark.parametrize("capture", [c for c in CAPTURES if kind_of(c.stem)], ids=lambda path: path.stem)
def test_its_name_says_what_it_raises(capture: Path) -> None:
    found = raised(read_lines(capture.with_suffix(".expected.jsonl")))
    assert (kind_of(capture.stem) in found) is not capture.stem.startswith("near-")


@pytest.mark.parametrize("kind", sorted(set(KINDS) - NOT_FROM_A_CAPTURE))
def test_each_kind_has_a_recording_and_a_near_miss(kind: str) -> None:
    names = [capture.stem for capture in CAPTURES if kind_of(capture.stem) == kind]
    assert any(not name.startswith("near-") for name in names)
    assert any(name.startswith("near-") for name in names)


def test_a_near_miss_raises_nothing_at_all() -> None:
    for capture in HERE.glob("near-*.capture"):
        assert raised(read_lines(capture.with_suffix(".expected.jsonl"))) == set(), capture.stem


@pytest.mark.parametrize("capture", CAPTURES, ids=lambda path: path.stem)
def test_it_is_what_its_scene_writes(capture: Path) -> None:
    """A capture of a scene is changed in the scene; one from a real layout has none."""
    if capture.stem in SCENES:
        assert SCENES[capture.stem]().text() == capture.read_text(encoding="utf-8")


def test_every_scene_has_been_written() -> None:
    assert set(SCENES) <= {capture.stem for capture in CAPTURES}


def test_expected_files_have_captures() -> None:
    expected = {path.name.removesuffix(".expected.jsonl") for path in HERE.glob("*.expected.jsonl")}
    assert expected == {capture.stem for capture in CAPTURES}


@pytest.mark.parametrize("capture", CAPTURES, ids=lambda path: path.stem)
def test_outcomes_are_counted_from_one_and_time_does_not_run_back(capture: Path) -> None:
    for session in sessions(all_said(capture.read_text(encoding="utf-8"))):
        assert [row["n"] for row in session] == list(range(1, len(session) + 1))
        assert [row["t"] for row in session] == sorted(row["t"] for row in session)
        for row in session:
            assert row["says"] != "corrected" or row["of"] < row["n"]
