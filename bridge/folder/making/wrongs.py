"""What is wrong with a sketch, each at its field, with what would be right.

Rule: nothing stops at the first one; a field that cannot be used has something harmless in its place, so that what refers
to it is not told as well.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import asdict, dataclass

from bridge.folder.making.measures import length_mm, number

LONGEST_NAME = 60
LONGEST_MM = 1_000_000.0
HIDDEN = {"Cc", "Cs", "Zl", "Zp"}
TURNING = set("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""Signs that turn the direction of what stands behind them (Unicode standard annex 9, explicit formatting)."""


@dataclass(frozen=True, slots=True)
class Wrong:
    """One thing that is wrong. `field` is its place in the sketch: "stations.0.roads.1.length"."""

    field: str
    message: str
    remedy: str

    def as_dict(self) -> dict[str, str]:
        """Ready for JSON."""
        return asdict(self)


class Wrongs:
    """Collects what is wrong, and reads the fields."""

    def __init__(self) -> None:
        self.found: list[Wrong] = []

    def say(self, field: str, message: str, remedy: str) -> None:
        """Something is wrong there."""
        self.found.append(Wrong(field, message, remedy))

    def name(self, field: str, typed: str, what: str, example: str) -> str:
        """A name as it was typed, without blanks around it; told where there is none or it cannot be kept."""
        name = typed.strip()
        if not name:
            self.say(field, f"{what} has no name yet.", f"Write it as people say it, for example {example}.")
        elif any(unicodedata.category(sign) in HIDDEN or sign in TURNING for sign in name):
            self.say(
                field, f"{what}: there are signs in this that cannot be seen, or more than one line.", "Type it by hand."
            )
        elif len(name) > LONGEST_NAME:
            self.say(field, f"{what} has a name of {len(name)} signs.", f"Write a shorter one, up to {LONGEST_NAME} signs.")
        return name

    def length(self, field: str, typed: str, what: str, example: str) -> float:
        """A length in millimetres; endless where it cannot be used."""
        found = length_mm(typed)
        how = f"Write it in millimetres, for example {example}, or with its unit: 1.4 m, 140 cm, 4 ft."
        if not typed.strip():
            self.say(field, f"The length of {what} is missing.", how)
        elif found is None:
            self.say(field, f"“{_short(typed)}” is no length.", how)
        elif not 1.0 <= found <= LONGEST_MM:
            self.say(field, f"{what[:1].upper()}{what[1:]} cannot be {found:g} mm long.", how)
        else:
            return found
        return float("inf")

    def number(self, field: str, typed: str, what: str, example: str, most: float) -> float:
        """A number above 0, at most `most`; 1 where it cannot be used."""
        found = number(typed)
        if found is None or not 0.01 <= found <= most:
            said = f"“{_short(typed)}” cannot be {what}." if typed.strip() else f"{what[:1].upper()}{what[1:]} is missing."
            self.say(field, said, f"Write a number, for example {example}; at most {most:g}.")
            return 1.0
        return round(found, 4)

    def choice(self, field: str, typed: str, choices: Sequence[str], what: str) -> str:
        """One of some words; the first of them where it is none."""
        if typed in choices:
            return typed
        said = f"“{_short(typed)}” is no {what}." if typed.strip() else f"The {what} is missing."
        self.say(field, said, f"Choose one of: {', '.join(choices)}.")
        return choices[0]


def _short(typed: str) -> str:
    shown = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in typed.strip())
    return shown if len(shown) <= 30 else f"{shown[:29]}…"
