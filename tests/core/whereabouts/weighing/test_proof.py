"""What a piece of evidence proves: of what was itself seen or told, and of all that hangs together with it."""

from __future__ import annotations

from bridge.core.whereabouts.weighing.proof import Mark, Proof


def test_only_what_was_itself_read_is_seen() -> None:
    proof = Proof(5.0, 7, "e1", "order")
    assert (proof.mark("e1"), proof.mark("w1")) == (Mark("seen", (7,)), Mark("order", (7,)))


def test_only_what_was_itself_looked_at_is_told_and_what_follows_from_it_is_by_order() -> None:
    proof = Proof(5.0, 7, "w1", "told")
    assert (proof.mark("w1"), proof.mark("w2")) == (Mark("told", (7,)), Mark("order", (7,)))


def test_what_rests_on_no_line_of_a_board_names_none() -> None:
    assert Proof(5.0, None, None, "assumed").mark("w1") == Mark("assumed", ())
