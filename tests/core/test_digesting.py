"""Tags that no vehicle carries: real ones are told, what disturbed readers make of known ones is not."""

from __future__ import annotations

import pytest

from .conftest import Session, line

KNOWN = "816C4FC5"


def told_of(tag: str) -> set[str]:
    """The tags told to be unknown, once a reader has said this one twice, and another reader too."""
    s = Session(line())
    s.say(f"tag {KNOWN} w1")
    for reader in ("ash-dock-reader", "ash-dock-reader", "birch-dock-reader"):
        s.see(reader, f"tag={tag}", 3.0)
    return {row["tag"] for row in s.rows("irregularity", kind="tag-unknown")}


@pytest.mark.parametrize("tag", ["00816C4F", "0000816C"])
def test_what_disturbed_readers_make_of_a_known_tag_is_no_other_vehicle(tag: str) -> None:
    """As reported of two readers beside each other: 00 00 00 81 6C for 81 6C 4F C5 (miguelbalboa/rfid#589)."""
    assert told_of(tag) == set()


@pytest.mark.parametrize("tag", ["006C4FC5", "00008EC7", "816C4FEE", "00000081", "0000816C4F", "008EC793"])
def test_what_is_no_known_tag_shifted_is_told(tag: str) -> None:
    """Zeros in front alone tell nothing: numbers of 125 kHz tags often begin so. One byte is too little to know a tag by."""
    assert told_of(tag) == {tag}
