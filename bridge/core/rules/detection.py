"""What is wrong with the detection itself: boards lost, reports lost, tags of no vehicle, readers that miss too much.

Rule: a gap, a silence and a stranger are each a cause of their own; they end when filled, when the board is heard again,
when the tag has been given to a vehicle, when the reader reads well.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.ledger import Claim

if TYPE_CHECKING:
    from bridge.core.state import State


def boards(state: State, board: str) -> list[Claim]:
    """A board that is silent, and the numbers that are missing from its reports."""
    found: list[Claim] = []
    lost = state.lost_boards.get(board)
    if lost is not None:
        cause, why, evidence = lost
        found.append(
            Claim(
                "board-lost",
                cause,
                {"board": board},
                f"Board {board} is lost: {why}. Its detectors are unknown.",
                "Look at its cable and supply. Nothing that it watches is proved until it is back.",
                evidence=evidence,
            )
        )
    for cause, evidence in state.gaps.get(board, ()):
        first, last = cause.rsplit(":", 1)[1].split("-")
        what = f"number {first}" if first == last else f"numbers {first} to {last}"
        found.append(
            Claim(
                "reports-lost",
                cause,
                {"board": board},
                f"Reports of board {board} are missing ({what}); it has not sent them again.",
                "Look where the wagons stand that passed its detectors just now.",
                evidence=evidence,
            )
        )
    return found


def tags(state: State, tag: str) -> list[Claim]:
    """A tag of no vehicle that was read often enough to be real."""
    strange = state.strangers.get(tag)
    if strange is None or not strange.raised:
        return []
    _, detector, _ = strange.reads[-1]
    return [
        Claim(
            "tag-unknown",
            f"tag:{tag}",
            {"tag": tag, "detector": detector},
            f"Tag {tag} was read by {detector}, and no vehicle carries it.",
            f"Tell whose it is: tag {tag} VEHICLE.",
            evidence=tuple(n for _, _, n in strange.reads),
        )
    ]


def readers(state: State, reader: str) -> list[Claim]:
    """A reader that misses too much of what passes it."""
    weak = state.weak.get(reader)
    if weak is None:
        return []
    did = f"read {weak.read} of {weak.passed}" if weak.read else f"not read one of {weak.passed}"
    return [
        Claim(
            "reader-weak",
            weak.cause,
            {"detector": reader},
            f"Reader {reader} has {did} vehicles that passed it and that other readers read.",
            "Clean it, and look at the height of the tags over it, at its aerial and its plugs. Until it reads well, look "
            "where the wagons stand that pass it.",
            evidence=weak.evidence,
        )
    ]
