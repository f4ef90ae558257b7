"""The verbs of a script: each with what stands behind it and the order that it makes.

Rule: a form is one row of the table, and people are told of it in `GRAMMAR` (`script.py`), which `simulate --help` prints.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from bridge.virtual import orders as o
from bridge.virtual.script_words import UnreadableError, Words, clock_s
from bridge.virtual.wishes import nearest


def _speed(text: str | None) -> float | None:
    return None if text is None else float(text)


_AT = r"(?: at (\d+) mm/s)?"
_BY = r"(?: by (\S+))?"
_Make = Callable[[Words, re.Match[str]], o.Order]
_TABLE: tuple[tuple[str, str, _Make], ...] = (
    (r"works (\S+)", "W", lambda w, m: o.Works(m[1])),
    (r"ends", "", lambda w, m: o.Ends()),
    (r"at (\d\S*)", "-", lambda w, m: o.UntilClock(clock_s(m[1]))),
    (r"waits (\d+(?:\.\d+)?) s", "-", lambda w, m: o.Waits(float(m[1]))),
    (r"waits until (.+)", "-", lambda w, m: o.WaitsUntil(w.condition(m[1]))),
    (rf"runs to (\S+){_BY}{_AT}", "RR-", lambda w, m: o.RunsTo(m[1], None, m[2], _speed(m[3]))),
    (rf"runs (\d+) mm into (\S+){_BY}{_AT}", "-PR-", lambda w, m: o.RunsTo(m[2], float(m[1]), m[3], _speed(m[4]))),
    (
        rf"departs (\d+) mm into (\S+){_AT}",
        "-P-",
        lambda w, m: o.RunsTo(m[2], float(m[1]), None, _speed(m[3]), departs=True),
    ),
    (rf"runs towards (\S+) until (\S+) is at (\S+){_AT}", "PVB-", lambda w, m: o.RunsUntil(m[1], m[2], m[3], _speed(m[4]))),
    (rf"draws clear into (\S+){_BY}{_AT}", "PR-", lambda w, m: o.DrawsClear(m[1], m[2], _speed(m[3]))),
    (rf"couples to (\S+){_BY}{_AT}", "VR-", lambda w, m: o.Couples(m[1], m[2], _speed(m[3]))),
    (r"leaves all", "", lambda w, m: o.Leaves((), all_but=True)),
    (r"leaves (.+)", "V", lambda w, m: o.Leaves(tuple(m[1].split()))),
    (r"keeps (.+)", "V", lambda w, m: o.Leaves(tuple(m[1].split()), all_but=True)),
    (r"takes token (\S+) at (\S+)", "ST", lambda w, m: o.TakesToken(m[1], m[2])),
    (r"lays token (\S+) at (\S+)", "ST", lambda w, m: o.LaysToken(m[1], m[2])),
    (r"says (.+)", "-", lambda w, m: o.Says(m[1])),
    (r"proves (\S+)", "D", lambda w, m: o.Switches(m[1], True)),
    (r"unproves (\S+)", "D", lambda w, m: o.Switches(m[1], False)),
    (r"power (\S+) (on|off)", "D-", lambda w, m: o.Switches(m[1], m[2] == "on")),
    (r"board (\S+) silent for (\d+) s", "C-", lambda w, m: o.BoardFails(m[1], silent_s=float(m[2]))),
    (r"board (\S+) loses (\d+) reports?", "C-", lambda w, m: o.BoardFails(m[1], lost=int(m[2]))),
    (
        r"board (\S+) loses (\d+) reports? and sends (?:them|it) again",
        "C-",
        lambda w, m: o.BoardFails(m[1], lost=int(m[2]), kept=True),
    ),
    (r"marks (\S+)", "-", lambda w, m: o.Marks(m[1])),
    (r"carries ([0-9A-F]+) on (\S+)", "-V", lambda w, m: o.CarriesTag(m[2], m[1])),
    (
        r"expects ([a-z-]+)((?: [a-z]+=\S+)*) from (.+?) due (.+?)(?: may follow (.+))?",
        "-----",
        lambda w, m: w.expectation(m),
    ),
)
_VERBS = tuple((re.compile(pattern), kinds, make) for pattern, kinds, make in _TABLE)
_WORDS = sorted(
    {pattern.split()[0].rstrip("()") for pattern, _, _ in _TABLE} | {"crew", "begin", "speed", "mistake", "if", "unless"}
)


def order_of(line: str, words: Words) -> o.Order:
    """The order that a line gives; raises UnreadableError where it gives none, or names what there is not."""
    for pattern, kinds, make in _VERBS:
        match = pattern.fullmatch(line)
        if match:
            for number, kind in enumerate(kinds, 1):
                if match[number] is not None:
                    words.check(kind, match[number])
            return make(words, match)
    verb = next(iter(line.split()), "")  # nothing may stand behind "if MISTAKE:"
    close = nearest(verb, _WORDS)
    hint = (
        f"did you mean {close!r}?"
        if close is not None and close != verb
        else "`numbertaker simulate --help` lists what a line may say."
    )
    raise UnreadableError(f"I cannot follow this line; {hint}")
