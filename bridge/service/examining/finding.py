"""What an examination finds, and how its parts are run.

Rule: no part keeps another from being examined, whatever it raises and however long it takes.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Literal

Level = Literal["fault", "advice", "good"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One sentence, and what to do where something is wrong (`fault`) or worth knowing (`advice`)."""

    level: Level
    text: str
    remedy: str = ""

    def as_dict(self, part: str) -> dict[str, str]:
        """The finding for programs."""
        return {"part": part, **asdict(self)}


Part = Callable[[], Iterable[Finding]]
"""Examines one thing, finding by finding."""


def good(text: str) -> Finding:
    """Something that is as it should be."""
    return Finding("good", text)


def fault(text: str, remedy: str) -> Finding:
    """Something that is wrong."""
    return Finding("fault", text, remedy)


def advice(text: str, remedy: str) -> Finding:
    """Something worth knowing."""
    return Finding("advice", text, remedy)


def examined(parts: Mapping[str, Part], longest_s: float) -> dict[str, list[Finding]]:
    """Each part's findings, all examined at the same time; what is not done after `longest_s` is said so, and left."""
    found: dict[str, list[Finding]] = {name: [] for name in parts}
    threads = {
        name: threading.Thread(target=_examine, args=(part, found[name]), name=f"examine {name}", daemon=True)
        for name, part in parts.items()
    }
    for thread in threads.values():
        thread.start()
    until = time.monotonic() + longest_s
    for name, thread in threads.items():
        thread.join(max(0.0, until - time.monotonic()))
        if thread.is_alive():
            said = f"This took longer than {longest_s:g} s and was left."
            found[name] = [*found[name], fault(said, "Try it again; if it stays so, what is examined here hangs.")]
    return found


def _examine(part: Part, found: list[Finding]) -> None:
    try:
        for finding in part():
            found.append(finding)
    except Exception as error:  # an examination that fails is a finding too
        said = f"This could not be examined: {type(error).__name__}: {error}."
        found.append(fault(said, "If it is not clear why, please report it."))
