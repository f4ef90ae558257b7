"""The shape of the picture says what the view draws, and what DEVELOPERS.md says it draws."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, get_args

import pytest
from pydantic import ValidationError

from bridge.published.line_shapes import Shape
from bridge.published.shapes import Snapshot
from bridge.service.core import CORE
from bridge.service.folding import Evening

from ..recordings.said import folder_of, records_of
from ..recordings.scene import railway_of

RECORDINGS = Path(__file__).parent.parent / "recordings"
TEXT = (RECORDINGS.parent.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
SERVICE = {"troubles": [], "unkept": None}
"""What the service adds to a view."""


def captures() -> list[Path]:
    """One of each kind of recording."""
    return list({path.name.split("-")[0]: path for path in sorted(RECORDINGS.glob("*.capture"))}.values())


@pytest.mark.parametrize("capture", captures(), ids=lambda path: path.stem)
def test_what_the_view_draws_is_of_that_shape(capture: Path) -> None:
    text = capture.read_text(encoding="utf-8")
    evening = Evening(CORE, railway_of(folder_of(text)))
    Snapshot.model_validate({**evening.view(), **SERVICE})
    for count, record in enumerate(records_of(text)):
        for _ in evening.follow(record):
            pass
        if evening.is_over:
            break
        if count % 40 == 0:
            Snapshot.model_validate({**evening.view(), **SERVICE})
    Snapshot.model_validate({**evening.view(), **SERVICE})


def test_another_key_and_a_missing_one_are_no_picture() -> None:
    drawn = {**Evening(CORE, railway_of("railway")).view(), **SERVICE}
    for wrong in ({**drawn, "more": 1}, {key: value for key, value in drawn.items() if key != "moves"}):
        with pytest.raises(ValidationError):
            Snapshot.model_validate(wrong)


def keys(shape: type[Shape]) -> set[str]:
    return {info.alias or name for name, info in shape.model_fields.items()}


def shapes_in(annotation: Any) -> list[type[Shape]]:
    if isinstance(annotation, type) and issubclass(annotation, Shape):
        return [annotation]
    return [shape for part in get_args(annotation) for shape in shapes_in(part)]


def parts(shape: type[Shape], path: str = "") -> dict[str, set[str]]:
    """The keys of every part, by its path without signs for lists; authority is told in the row of its section."""
    found: dict[str, set[str]] = {}
    for name, info in shape.model_fields.items():
        at = f"{path}.{name}".removeprefix(".")
        for inner in shapes_in(info.annotation):
            if name != "authority":
                found |= {at: keys(inner), **parts(inner, at)}
        if not path and not shapes_in(info.annotation):
            found[at] = set()
    return found


def described() -> dict[str, set[str]]:
    chapter = TEXT.split("### The snapshot\n", 1)[1].split("\n### ", 1)[0]
    rows = re.findall(r"^\| `([a-z_.\[\]]+)`[^|]* \| (.*) \|$", chapter, re.MULTILINE)
    return {
        part.replace("[]", ""): set(re.findall(r"`([a-z_]+)(?:\[\])?`", re.sub(r"\([^)]*\)", "", told)))
        for part, told in rows
    }


def test_the_one_table_of_keys_is_the_shape() -> None:
    assert described() == parts(Snapshot)
