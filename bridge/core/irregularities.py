"""The kinds of irregularity as data: how grave each is and which subject keys it names.

Rule: a kind stands here once; rules only name it. Levels and keys are the contract's.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind: its level ("danger", "caution", "note"), and the keys that an outcome of this kind adds."""

    level: str
    keys: tuple[str, ...]


KINDS: dict[str, Kind] = {
    "section-clash": Kind("danger", ("section", "train", "trains")),
    "no-authority": Kind("danger", ("section", "train")),
    "wrong-direction": Kind("danger", ("section", "train")),
    "train-divided": Kind("danger", ("section", "train")),
    "unexplained-occupation": Kind("danger", ("section", "road")),
    "clash-ahead": Kind("caution", ("section", "trains")),
    "deadlock": Kind("caution", ("trains",)),
    "early-departure": Kind("caution", ("train",)),
    "not-proved": Kind("danger", ("section", "road", "throat", "train", "detector")),
    "overdue": Kind("note", ("train",)),
    "wrong-road": Kind("caution", ("train", "road")),
    "road-blocked": Kind("caution", ("train", "road")),
    "overfull-road": Kind("caution", ("road", "fouls")),
    "set-out-forgotten": Kind("caution", ("train", "vehicle", "road")),
    "lift-missed": Kind("caution", ("train", "vehicle", "road")),
    "wagon-misplaced": Kind("caution", ("vehicle", "road")),
    "wagon-unbooked": Kind("note", ("vehicle",)),
    "wagon-lost": Kind("note", ("vehicle",)),
    "tag-unknown": Kind("note", ("tag", "detector")),
    "board-lost": Kind("caution", ("board",)),
    "reports-lost": Kind("note", ("board",)),
    "detector-noisy": Kind("note", ("detector",)),
    "detector-stuck": Kind("note", ("detector",)),
    "detector-contradicted": Kind("note", ("detector",)),
    "reader-weak": Kind("note", ("detector",)),
    "rule-failed": Kind("danger", ("rule",)),
}
