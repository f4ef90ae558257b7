"""Detectors that are under doubt: inputs that change too often, do not change, or say what cannot be.

Rule: each ends of itself when the detector does well again, and when it is muted, for then somebody has seen to it. What a
stuck detector says is told, for on and off ask for different things.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.ledger import Claim
from bridge.core.plant import DetectorKind

if TYPE_CHECKING:
    from bridge.core.detection.doubtful import Silence
    from bridge.core.state import State

CARE = "Switch the track power off first; touch low-voltage wires only, for mains is a licensed person's work."


def noisy(state: State, detector: str) -> list[Claim]:
    """An input that changes more often than anything on the rails can make it."""
    found, railway = state.doubtful.noisy.get(detector), state.railway
    if found is None or railway is None or _is_muted(state, detector):
        return []
    board = railway.plant.detectors[detector].board
    why = ", and nothing is there that could make it" if found.is_bare else ", faster than anything on the rails can make it"
    also = f" So has {' and '.join(found.beside)}, of the same board." if found.beside else ""
    look = f"the supply and the common wire of board {board}" if found.beside else "its plug and its wire"
    return [
        Claim(
            "detector-noisy",
            found.cause,
            {"detector": detector},
            f"{detector} has changed {found.changes} times in {found.within_s:.1f} s{why}.{also}",
            f"Look at {look}, and whether anything holds the input where it rests. {CARE} Until it is calm, believe nothing "
            f"that {detector} says; to leave it out, tell: mute {detector}.",
            because=(board,),
            evidence=found.evidence,
            happened=found.happened,
        )
    ]


def stuck(state: State, detector: str) -> list[Claim]:
    """A detector that trains have passed, and that has said the same all the while."""
    found, railway = state.doubtful.stuck.get(detector), state.railway
    if found is None or railway is None or _is_muted(state, detector):
        return []
    text, do = _stuck_words(state, detector, found)
    return [
        Claim(
            "detector-stuck",
            f"stuck:{detector}:{found.evidence[0]}",
            {"detector": detector},
            text,
            do,
            evidence=found.evidence,
        )
    ]


def _stuck_words(state: State, detector: str, found: Silence) -> tuple[str, str]:
    """What is said of a stuck detector, and what to do."""
    railway = state.railway
    assert railway is not None
    one, trains = railway.plant.detectors[detector], " and ".join(dict.fromkeys(found.trains))
    often = "" if len(set(found.trains)) == len(found.trains) else " more than once"
    if one.kind is DetectorKind.TREADLE:
        contact = "its contact has been closed all the while" if found.says == "on" else "its contact never closed"
        return (
            f"{detector} has told of nothing as {trains} passed it{often}: {contact}.",
            f"Look at its switch, how near magnets or wheels come to it, and its wire. {CARE} Until it tells of trains "
            f"again, do not wait for its word; to leave it out, tell: mute {detector}.",
        )
    if found.says == "clear":
        return (
            f"{detector} has said clear all the while that {trains} passed {one.covers}{often}: it sees nothing there.",
            f"Take {one.covers} for clear only when you have looked. Look at the detector, its plug and its wire. "
            f"{CARE} To leave it out, tell: mute {detector}.",
        )
    return (
        f"{detector} says that {one.covers} is occupied, and has not gone off since before {trains} passed{often}; nothing "
        "is known to stand there.",
        f"Look along {one.covers} first: whatever stands there, tell where (stands VEHICLE PLACE). If nothing does, look "
        f"for what bridges the rails, and at the detector. {CARE} To leave it out, tell: mute {detector}.",
    )


def contradicted(state: State, detector: str) -> list[Claim]:
    """A detector that says what cannot be."""
    found = state.doubtful.contradicted.get(detector)
    if found is None or _is_muted(state, detector):
        return []
    return [
        Claim(
            "detector-contradicted",
            found.cause,
            {"detector": detector},
            f"{detector} {found.what}.",
            f"Look at {found.look}. {CARE} Until then do not go by {detector}; to leave it out, tell: mute {detector}.",
            because=found.because,
            evidence=found.evidence,
        )
    ]


def _is_muted(state: State, detector: str) -> bool:
    return state.conditioning is not None and state.conditioning.detectors[detector].muted
