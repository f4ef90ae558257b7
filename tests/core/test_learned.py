"""What a session has learned is written as text and read back the same; what cannot be read says why."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.learned import Learned

COUNTS = st.dictionaries(
    st.text(min_size=1, max_size=12),
    st.tuples(*[st.floats(0.0, 1e6, allow_nan=False)] * 2),
    max_size=4,
)


@given(COUNTS, COUNTS)
def test_it_is_read_back_as_it_was(readers: dict, tags: dict) -> None:
    learned = Learned(readers, tags)
    assert Learned.from_text(learned.as_text()) == learned
    assert "\n" not in learned.as_text()


def test_equal_things_are_written_alike() -> None:
    one = Learned({"a@x": (1.0, 2.0), "b@x": (0.5, 0.0)}, {"w1": (1.0, 0.0), "w2": (0.0, 1.0)})
    other = Learned(dict(reversed(one.readers.items())), dict(reversed(one.tags.items())))
    assert one.as_text() == other.as_text()


@pytest.mark.parametrize(
    "text",
    [
        "",
        "nothing",
        "[]",
        '{"readers": {}}',
        '{"readers": {}, "tags": {}, "more": {}}',
        '{"readers": {"a": [1]}, "tags": {}}',
        '{"readers": {"a": [1, -1]}, "tags": {}}',
        '{"readers": {"a": [1, true]}, "tags": {}}',
        '{"readers": {"a": [1, "2"]}, "tags": {}}',
        '{"readers": {"a": [1, NaN]}, "tags": {}}',
        '{"readers": [], "tags": {}}',
    ],
)
def test_what_cannot_be_read_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"."):
        Learned.from_text(text)


def test_it_is_json() -> None:
    assert json.loads(Learned({"a@x": (1.5, 2.0)}, {}).as_text()) == {"readers": {"a@x": [1.5, 2.0]}, "tags": {}}
