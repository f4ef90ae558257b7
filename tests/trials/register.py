"""What of a session's register has to be the same however often the service was killed.

Rule: compared is what stands at the end (a `corrected` takes back), without when it was said. Left out, because a stop and a
start honestly change it:

- seconds and the session clock, `late` with them: the session clock stands still while the service is down;
- `observed`: a start makes what was observed before it stale, so that every detector is unknown, and then stated, once more;
- whether a token was returned "assumed" or by its rest, and other words on why: they tell what was known just then;
- `sure` and `by` of whereabouts: what was seen just before and is not seen again rests on fewer proofs.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from typing import Any

Row = Mapping[str, Any]

SUBJECT = ("section", "train", "trains", "road", "vehicle", "fouls", "tag", "detector", "board")
TOLD = {
    "departed": ("train", ("station", "road", "booked_road")),
    "arrived": ("train", ("station", "road", "booked_road")),
    "entered": ("train", ("section",)),
    "cleared": ("section", ("train", "complete")),
    "lifted": ("vehicle", ("road", "train", "booked")),
    "set-out": ("vehicle", ("road", "train", "booked")),
    "authority": ("section", ("train", "state")),
}
"""By whose order each is compared: rows of different trains may change places with the second in which they were heard."""


def register(rows: Iterable[Row]) -> dict[str, Any]:
    """A session's register as it is compared, by what a line is about."""
    kept = standing(list(rows))
    found: dict[str, Any] = defaultdict(list)
    for row in kept:
        if row["says"] in TOLD:
            subject, keys = TOLD[row["says"]]
            found[f"{subject} {row[subject]}"].append((row["says"], *(row[key] for key in keys)))
    for row in kept:
        if row["says"] == "whereabouts":
            found[f"place of {row['vehicle']}"] = (row["place"], row["order"], tuple(row["fouls"]), row["train"])
        elif row["says"] == "move":
            found[f"move of {row['vehicle']} to {row['to']}"] = row["state"]
    items = {row["id"]: _item(row) for row in kept if row["says"] == "irregularity"}
    found["irregularities"] = Counter(items.values())
    return dict(found)


def standing(rows: list[Row]) -> list[Row]:
    """What was said and has not been corrected since."""
    void = {row["of"]: place for place, row in enumerate(rows) if row["says"] == "corrected"}
    return [row for place, row in enumerate(rows) if void.get(row["n"], -1) <= place]


def differences(one: Mapping[str, Any], other: Mapping[str, Any]) -> list[str]:
    """A line for each part in which two registers differ."""
    keys = dict.fromkeys((*one, *other))
    return [f"{key}: {one.get(key)} became {other.get(key)}" for key in keys if one.get(key) != other.get(key)]


def _item(row: Row) -> tuple[Any, ...]:
    subject = ((key, row[key]) for key in SUBJECT if key in row)
    return (row["kind"], *((key, tuple(value) if isinstance(value, list) else value) for key, value in subject))
