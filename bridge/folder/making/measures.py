"""Lengths and numbers as people type them.

Rule: what could be read in two ways is read in neither.
"""

from __future__ import annotations

import re

UNITS_MM = {"": 1.0, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, '"': 25.4, "ft": 304.8, "'": 304.8}
"""Inch and foot are exact by the international yard and pound agreement of 1959."""

_LENGTH = re.compile(r"""(?P<digits>\d[\d ]*(?:[.,]\d+)?)\s*(?P<unit>[a-z]*|["'])""")
_IN_THOUSANDS = re.compile(r"\d{1,3}(?: \d{3})+")


def length_mm(text: str) -> float | None:
    """Millimetres, unless another unit stands behind: "1400", "140 cm", "1,4 m", "4 ft"; None where it is no length.

    "1.400" and "1,400" are none: to one reader that is a little more than one, to another more than a thousand. With a
    unit larger than a millimetre there is no such doubt.
    """
    match = _LENGTH.fullmatch(_plain(text))
    if match is None or match["unit"] not in UNITS_MM:
        return None
    digits = match["digits"].strip()
    if UNITS_MM[match["unit"]] == 1.0 and re.fullmatch(r".*[.,]\d{3}", digits):
        return None
    found = number(digits)
    return None if found is None else round(found * UNITS_MM[match["unit"]], 1)


def number(text: str) -> float | None:
    """A number with point or comma, its thousands apart or not; None where it is none."""
    plain = _plain(text)
    whole = re.split(r"[.,]", plain, maxsplit=1)[0]
    if " " in plain and not (_IN_THOUSANDS.fullmatch(whole) and " " not in plain[len(whole) :]):
        return None
    bare = plain.replace(" ", "").replace(",", ".")
    return float(bare) if re.fullmatch(r"\d{1,9}(\.\d{1,6})?", bare, re.ASCII) else None


def _plain(text: str) -> str:
    return " ".join(text.lower().split())
