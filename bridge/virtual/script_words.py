"""What a line of a script names: things of the railway, conditions, moments, times of the clock.

Rule: a name that the railway folder does not have is refused with the nearest that it has.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from bridge.core.plan import Railway
from bridge.virtual import orders as o
from bridge.virtual.wishes import nearest

_CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::(\d{2}))?")


class UnreadableError(Exception):
    """A line that makes no order, and why; whoever knows file and line makes a fault of it."""


class Words:
    """The words of a railway, by kind: each kind is a letter in the table of verbs."""

    def __init__(self, railway: Railway) -> None:
        plant = railway.plant
        self._known = {
            "V": (set(railway.stock), "vehicle"),
            "P": (set(plant.at_stretch), "road, throat or section"),
            "R": (set(plant.roads), "road"),
            "B": (set(plant.boundaries), "boundary"),
            "S": (set(plant.sections), "section"),
            "T": (set(plant.stations), "station"),
            "D": (set(plant.detectors), "detector"),
            "C": (set(plant.boards), "board"),
            "W": (set(railway.workings), "working"),
        }

    def check(self, kind: str, words: str) -> None:
        """Raise UnreadableError where one of `words` names nothing of its kind; a kind that is none of ours takes any."""
        known, name = self._known.get(kind, (None, ""))
        for word in words.split():
            if known is not None and word not in known:
                raise UnreadableError(f"There is no {name} {word!r} in the railway folder; {likeness(word, known)}")

    def condition(self, text: str) -> o.Condition:
        """What has to be so; raises UnreadableError where it is none, as do the two below."""
        if text == "now":
            return o.Condition("always")
        if match := re.fullmatch(r"(\S+) (in|within|off) (\S+)", text):
            self.check("V", match[1])
            self.check("P", match[3])
            return o.Condition(match[2], match[1], match[3])
        if match := re.fullmatch(r"(\S+) clear", text):
            self.check("P", match[1])
            return o.Condition("clear", place=match[1])
        if match := re.fullmatch(r"token (\S+) at (\S+)", text):
            self.check("S", match[1])
            self.check("T", match[2])
            return o.Condition("token", match[2], match[1])
        if match := re.fullmatch(r"(\S+) marked", text):
            return o.Condition("marked", match[1])
        if match := re.fullmatch(r"(\S+) read (\d+) times?", text):
            return o.Condition("read", match[1], count=int(match[2]))
        raise UnreadableError("I do not know this condition; `numbertaker simulate --help` lists them.")

    def moment(self, text: str) -> o.Moment:
        """A condition, or so long after it."""
        match = re.fullmatch(r"(?:(\d+(?:\.\d+)?) s after )?(.+)", text.strip())
        assert match is not None
        return o.Moment(self.condition(match[2]), float(match[1] or 0))

    def expectation(self, match: re.Match[str]) -> o.Expects:
        """What the bridge is expected to say: kind, subject, from when, when it is due, what may follow."""
        subject = tuple((key, value) for key, _, value in (pair.partition("=") for pair in match[2].split()))
        may_follow = tuple((match[5] or "").split())
        return o.Expects(o.Expectation(match[1], subject, self.moment(match[3]), self.moment(match[4]), may_follow))


def likeness(word: str, known: Iterable[str]) -> str:
    """The end of a sentence that refuses `word`: what of `known` is most like it."""
    close = nearest(word, sorted(known))
    return "nothing there is like it." if close is None else f"the nearest is {close!r}."


def clock_s(text: str) -> float:
    """Seconds since midnight; raises UnreadableError for what is no time."""
    match = _CLOCK.fullmatch(text)
    if match is None:
        raise UnreadableError(f"{text!r} is no time; write it as 19:05 or 19:05:30.")
    return int(match[1]) * 3600.0 + int(match[2]) * 60.0 + int(match[3] or 0)
