"""Which irregularities that were said are planted ones, follow from one, are borne out otherwise, or are false.

`false_alarms`  items (one `id`) that were ever said, whatever became of them, of which no word agrees in kind and subject
                with an expected irregularity of the truth, whose kind may follow from no expected one, and whose `cause`
                is no planted one.
`aside`         those of them that are borne out otherwise: what tells of a detector or board that a fault of the evening
                has struck; under noise, whatever tells of detection (noise strikes all of it); a wagon that a hand has
                moved, or that the file has elsewhere; a freight irregularity about a vehicle of which a booked move was
                truly not done; a wrong road of which the crew says so too; a clash while the section truly held two
                trains, or one and loose vehicles. Who compares engines looks at their number: it must hide nothing.
`false`         the rest, those folded under another false one too. Its level is the highest that it ever had. `taken back`
                where every word of it was corrected in the end, or its last word is that it has ended.
`expected`      planted irregularities that came due; found where said at all, in time as `bridge.virtual.verdict` has it;
                `kinds wanting` are those of kinds of which the core has no rule at all.
`recall`        of freight kinds: expected ones found. `precision`: found ones of found and false ones together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from bridge.core.irregularities import KINDS
from bridge.core.plan import Railway
from bridge.virtual.noise import NOISES
from bridge.virtual.verdict import ALLOWED_S, held_against

from .counting import Count, Counts

Row = Mapping[str, Any]

FREIGHT = ("set-out-forgotten", "lift-missed", "wagon-misplaced")
DETECTION = (
    "tag-unknown",
    "board-lost",
    "reports-lost",
    "detector-noisy",
    "detector-stuck",
    "detector-contradicted",
    "reader-weak",
)
BY_HAND = ("moved-by-hand", "misplaced")
OF_A_WAGON = ("wagon-misplaced", "wagon-unbooked", "wagon-lost", "unexplained-occupation")
LEVELS = ("danger", "caution", "note")


def items_of(rows: Sequence[Row]) -> dict[str, list[Row]]:
    """Every irregularity that was said: its id to its words."""
    items: dict[str, list[Row]] = {}
    for row in rows:
        if row["says"] == "irregularity":
            items.setdefault(row["id"], []).append(row)
    return items


def false_alarms(truth: Row, rows: Sequence[Row]) -> list[Row]:
    """The first word of each irregularity that is neither a planted one nor follows from one; also of those taken back."""
    items = items_of(rows)
    planted = {
        item
        for item, said in items.items()
        if any(row["kind"] == each["kind"] and agrees(each["subject"], row) for row in said for each in truth["expected"])
    }
    may_follow = {kind for each in truth["expected"] for kind in each["may_follow"]}
    return [
        said[0]
        for item, said in items.items()
        if item not in planted and said[0]["kind"] not in may_follow and not any(row["cause"] in planted for row in said)
    ]


def agrees(subject: Row, row: Row) -> bool:
    """Whether a word of an irregularity has these keys."""
    return all(
        set(row[key] or ()) == set(wanted) if isinstance(wanted, list) else row[key] == wanted
        for key, wanted in subject.items()
    )


def is_aside(truth: Row, railway: Railway, row: Row) -> bool:
    """Whether an irregularity that nobody planted is borne out otherwise."""
    kind, detectors = row["kind"], railway.plant.detectors
    if kind in DETECTION and set(truth["mistakes"]) & set(NOISES):
        return True
    for fault in truth["faults"]:
        struck = {*fault["subject"].split("+"), *fault["by"]}
        struck |= {detectors[each].board for each in struck if each in detectors}
        if kind in DETECTION and struck & {row.get("detector"), row.get("board"), *(row["because"] or ())}:
            return True
        if fault["fault"] in BY_HAND and kind in OF_A_WAGON and struck & {row.get("vehicle"), row.get("road")}:
            return fault["t"] is not None and fault["t"] <= row["t"]
    if kind == "wrong-road":
        words = f"came in on {row['road']},"
        return any(each["working"] == row["train"] and each["text"].startswith(words) for each in truth["reasons"])
    if kind == "section-clash":
        return _was_shared(truth, row["section"], row["t"])
    return kind in FREIGHT and any(move["vehicle"] == row["vehicle"] and not move["done"] for move in truth["moves"])


def _was_shared(truth: Row, section: str, t: float) -> bool:
    """Whether a section held more than one train, or one and loose vehicles, at some instant within `ALLOWED_S`."""
    rows = [row for row in truth["sections"] if row[1] == section]
    return any(
        len(trains) + bool(loose) > 1 and began <= t + ALLOWED_S and (n == len(rows) or rows[n][0] >= t - ALLOWED_S)
        for n, (began, _, trains, loose) in enumerate(rows, 1)
    )


def alarms(truth: Row, railway: Railway, rows: Sequence[Row]) -> tuple[Counts, list[Row]]:
    """The counts of this module's docstring (of `false LEVEL`, right are those taken back), and the false ones."""
    verdict = held_against(truth, rows)
    items, standing = items_of(rows), {row["id"] for row in verdict.besides}
    counts: Counts = {f"false {level}": Count() for level in LEVELS}
    false: list[Row] = []
    for first in false_alarms(truth, rows):
        if is_aside(truth, railway, first):
            counts["aside"] = counts.get("aside", Count()) + Count(1, 1)
            continue
        said = items[first["id"]]
        level = min((row["level"] for row in said), key=LEVELS.index)
        back = first["id"] not in standing or said[-1]["status"] == "ended"
        counts[f"false {level}"] += Count(int(back), 1)
        false.append({**first, "level": level, "taken_back": back})
    due = [f for f, each in zip(verdict.expected, truth["expected"], strict=True) if each["due_t"] is not None]
    found = [each for each in due if each.after_due_s is not None]
    counts["found"] = Count(len(found), len(due))
    counts["in time"] = Count(sum(each.is_in_time for each in due), len(due))
    counts["kinds wanting"] = Count(sum(each.kind not in KINDS for each in due), len(due))
    for kind in FREIGHT:
        caught = sum(each.kind == kind for each in found)
        counts[f"recall {kind}"] = Count(caught, sum(each.kind == kind for each in due))
        counts[f"precision {kind}"] = Count(caught, caught + sum(row["kind"] == kind for row in false))
    return counts, false


def moves(truth: Row, rows: Sequence[Row]) -> Counts:
    """`moves known`: of the moves truly done, those whose last word is `done`. `moves untrue`: of the moves whose last word
    is `done`, those that truly were not. A move is its vehicle, whence and whither."""
    last = {(row["vehicle"], row["from"], row["to"]): row["state"] for row in rows if row["says"] == "move"}
    done = {(row["vehicle"], row["from"], row["to"]) for row in truth["moves"] if row["done"]}
    said = {move for move, state in last.items() if state == "done"}
    return {"moves known": Count(len(done & said), len(done)), "moves untrue": Count(len(said - done), len(said))}
