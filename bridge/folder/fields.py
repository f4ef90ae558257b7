"""The keys of one table, each asked for by its kind: what is missing, of the wrong kind, or known to nobody is told.

Rule: a missing key is told at the line of its table's header, anything else at the value, and a misspelt key is told as that
alone. Asking never raises: a key that cannot be used comes back as None (a list: empty), and `done` has told it at last.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from bridge.folder.finding import Findings, Spot, did_you_mean, listed, nearest
from bridge.folder.toml_values import Broken, Items, Leaf, Table, Tables, Value

ID = re.compile(r"[a-z0-9-]+")
LARGEST = 1e7
Word = tuple[str, Spot]


class Fields:
    """One table. `what` names it in messages, for example "road dock"."""

    def __init__(self, table: Table, what: str, findings: Findings) -> None:
        self.table = table
        self.what = what
        self.findings = findings
        self._asked: list[str] = []
        self._missing: dict[str, str] = {}

    def spot(self, key: str | None = None) -> Spot:
        """Where a key's value stands; the header where there is none."""
        entry = None if key is None else self.table.entries.get(key)
        if entry is None:
            return self.table.spot
        return entry.spot if isinstance(entry.value, Table | Tables) else entry.value.spot

    def has(self, key: str) -> bool:
        """Whether the key stands there at all."""
        return key in self.table.entries

    def is_empty_list(self, key: str) -> bool:
        """Whether the key stands there as a list with nothing in it."""
        entry = self.table.entries.get(key)
        return entry is not None and isinstance(entry.value, Items) and not entry.value.values

    def known(self, key: str) -> None:
        """Count a key as one that belongs here, without reading it."""
        self._asked.append(key)

    def wrong(self, key: str, message: str, remedy: str) -> None:
        """Tell a fault at a key's value."""
        self.findings.fault(self.spot(key), message, remedy)

    def _take(self, key: str, example: str, required: bool) -> Value | None:
        self._asked.append(key)
        entry = self.table.entries.get(key)
        if entry is None:
            if required:
                self._missing[key] = example
            return None
        return None if isinstance(entry.value, Broken) else entry.value

    def _not(self, value: Value, key: str, kind: str, example: str) -> None:
        spot = value.spot if isinstance(value, Leaf | Items) else self.spot(key)
        self.findings.fault(
            spot, f"`{key}` of {self.what} must be {kind}; here stands {_kind(value)}.", f"Write `{key} = {example}`."
        )

    def text(self, key: str, example: str, required: bool = True) -> str | None:
        """Any text that is not empty."""
        value = self._take(key, example, required)
        if value is None:
            return None
        if isinstance(value, Leaf) and isinstance(value.value, str):
            if value.value.strip():
                return value.value.strip()
            self.findings.fault(value.spot, f"`{key}` of {self.what} is empty.", f"Write for example `{key} = {example}`.")
            return None
        self._not(value, key, "text in double quotes", example)
        return None

    def id(self, key: str, example: str) -> str | None:
        """An id. One with characters that no id has is told and used all the same, so that it is not told as missing too."""
        found = self.text(key, example)
        if found is not None:
            tell_bad_id(found, self.spot(key), self.findings)
        return found

    def choice(self, key: str, options: Sequence[str], required: bool = True) -> str | None:
        """One of some words."""
        found = self.text(key, f'"{options[0]}"', required)
        if found is None or found in options:
            return found
        remedy = did_you_mean(found, options, f"Write one of: {', '.join(options)}.")
        self.wrong(key, f'`{key}` of {self.what} cannot be "{found}": known are {", ".join(options)}.', remedy)
        return None

    def number(
        self,
        key: str,
        example: str,
        *,
        required: bool = True,
        least: float = 0.0,
        most: float = LARGEST,
        or_least: bool = False,
    ) -> float | None:
        """A finite number above `least` (or `least` itself too, with `or_least`), at most `most`."""
        value = self._take(key, example, required)
        if value is None:
            return None
        found = value.value if isinstance(value, Leaf) else None
        if isinstance(found, bool) or not isinstance(found, int | float):
            hint = _number_in(found)
            self._not(value, key, "a number", example if hint is None else hint)
            return None
        if isinstance(found, float) and not math.isfinite(found):
            self._not(value, key, "a finite number", example)
            return None
        if found > most:
            self.wrong(
                key, f"`{key}` of {self.what} is too large: at most {most:g}.", f"Write for example `{key} = {example}`."
            )
            return None
        if found < least or (found == least and not or_least):
            bound = f"{least:g} or more" if or_least else f"above {least:g}"
            self.wrong(key, f"`{key}` of {self.what} must be {bound}.", f"Write for example `{key} = {example}`.")
            return None
        return float(found)

    def whole(self, key: str, example: str, required: bool = True, least: int = 1, most: int = 2**32 - 1) -> int | None:
        """A whole number between two bounds, both allowed."""
        found = self.number(key, example, required=required, least=least, most=most, or_least=True)
        if found is None or found.is_integer():
            return None if found is None else int(found)
        self.wrong(key, f"`{key}` of {self.what} must be a whole number.", f"Write for example `{key} = {example}`.")
        return None

    def flag(self, key: str, default: bool) -> bool:
        """True or false."""
        value = self._take(key, str(default).lower(), required=False)
        if value is None:
            return default
        if isinstance(value, Leaf) and isinstance(value.value, bool):
            return value.value
        self._not(value, key, "true or false", "true")
        return default

    def words(self, key: str, example: str, required: bool = True) -> list[Word]:
        """A list of texts, each with its place."""
        value = self._take(key, example, required)
        if value is None:
            return []
        if not isinstance(value, Items):
            self._not(value, key, "a list in square brackets", _as_list(value, example))
            return []
        found: list[Word] = []
        for item in value.values:
            if isinstance(item, Leaf) and isinstance(item.value, str) and item.value.strip():
                if item.value.strip() in (word for word, _ in found):
                    self.findings.fault(
                        item.spot, f'"{item.value}" stands twice in `{key}` of {self.what}.', "Take one out."
                    )
                else:
                    found.append((item.value.strip(), item.spot))
            elif not isinstance(item, Broken):
                self.findings.fault(
                    item.spot,
                    f"`{key}` of {self.what} lists texts; here stands {_kind(item)}.",
                    f"Write `{key} = {example}`.",
                )
        return found

    def inner(self, key: str, example: str) -> Table | None:
        """A table inside this one; never required."""
        value = self._take(key, example, required=False)
        if value is None or isinstance(value, Table):
            return value
        self._not(value, key, "a table", example)
        return None

    def inner_tables(self, key: str) -> list[Table]:
        """The tables of a `[[...]]` inside this one, or of a list of tables in braces."""
        value = self._take(key, f"[[...{key}]]", required=False)
        if isinstance(value, Tables):
            return value.tables
        if isinstance(value, Items) and all(isinstance(item, Table) for item in value.values):
            return [item for item in value.values if isinstance(item, Table)]
        if value is not None:
            self.findings.fault(
                self.spot(key),
                f"`{key}` must be tables of its own; here stands {_kind(value)}.",
                f"Give each its own header, ending in `{key}]]`.",
            )
        return []

    def done(self, also: Sequence[str] = (), remedies: dict[str, str] | None = None) -> None:
        """Tell every key that nobody asked for, and every one that is missing.

        `also` are keys that belong to other kinds; `remedies` are special words for some keys.
        """
        for key, entry in self.table.entries.items():
            if key in self._asked:
                continue
            guess = nearest(key, [k for k in self._asked if not self.has(k)])
            if remedies is not None and key in remedies:
                remedy = remedies[key]
            elif key in also:
                remedy = "Take it out."
            elif guess is not None:
                remedy = f"Did you mean `{guess}`?"
                self._missing.pop(guess, None)
            else:
                remedy = f"Take it out. Known here are {listed(self._asked, 20)}."
            self.findings.fault(entry.spot, f"{self.what} has no use for a key `{key}`.", remedy)
        for key, example in self._missing.items():
            self.findings.fault(self.table.spot, f"{self.what} has no `{key}`.", f"Add a line like `{key} = {example}`.")


def tell_bad_id(found: str, spot: Spot, findings: Findings) -> bool:
    """Tell an id with characters that no id has; True when it was told."""
    if ID.fullmatch(found):
        return False
    better = re.sub(r"-+", "-", re.sub(r"[^a-z0-9-]+", "-", found.casefold())).strip("-")
    remedy = f'Write for example "{better}", and the same wherever it is referred to.' if better else "Give it such an id."
    findings.fault(spot, f'"{found}" is no id: an id is made of a-z, 0-9 and "-".', remedy)
    return True


def _kind(value: Value) -> str:
    if isinstance(value, Items):
        return "a list"
    if not isinstance(value, Leaf):
        return "a table"
    found = value.value
    if isinstance(found, bool):
        return f"`{str(found).lower()}`"
    if isinstance(found, str):
        return "a text"
    if isinstance(found, int | float):
        return "a number"
    return "a date or time"


def _number_in(found: object) -> str | None:
    """The number inside a text that is nothing else: "1400", "1400 mm", "1400,5"."""
    match = re.fullmatch(r"(\d{1,9}(?:[.,]\d{1,9})?)[ ]?(?:mm|ms|s|min)?", found.strip()) if isinstance(found, str) else None
    return match[1].replace(",", ".") if match else None


def _as_list(value: Value, example: str) -> str:
    return (
        f"[{value.spot.text}]"
        if isinstance(value, Leaf) and isinstance(value.value, str) and len(value.spot.text) < 60
        else example
    )
