"""Every order in which three trains can go on a line of four stations, under each way of working, with perfect detection.

Not more than one train in a block section on the same line at once (LNER Regulations 1009/1, Absolute Block, as check values
6.1 has it) is what is held against the core: it says `section-clash` as a train enters where another is, and never else, and
`may-go` is never `yes` for a train whose going makes one, nor for two trains into one section.

Orders that come to the same are followed once; one that has come to a clash is followed no further. Here trains go a part
of the way; the whole line, end to end both ways, is tried by

    .environment/bin/python -m tests.core.test_every_order [RULE ...]
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable

import pytest

from bridge.core.advice import may_go

from .four_stations import Kept, Line

Way = tuple[tuple[str, str], ...]
RULES = ("one-train", "token", "staff-and-ticket", "track-circuit")
BRIEF = {"x": ("birch", "cedar", "dale"), "y": ("dale", "cedar"), "z": ("cedar", "birch")}
FOLLOWING = {"x": ("birch", "cedar"), "y": ("birch", "cedar"), "z": ("cedar", "birch")}
SHORT = {"x": ("ash", "birch", "cedar"), "y": ("dale", "cedar", "birch"), "z": ("birch", "cedar", "dale")}
TOWARDS = {"x": ("ash", "birch", "cedar"), "y": ("dale", "cedar", "birch"), "z": ("cedar", "dale")}
WHOLE = {"x": ("ash", "birch", "cedar", "dale"), "y": ("dale", "cedar", "birch", "ash"), "z": ("birch", "cedar", "dale")}


def explore(rule: str, routes: dict[str, tuple[str, ...]]) -> Counter[str]:
    """Every order of steps; raises AssertionError with the order by which the core is wrong. How much was tried."""
    line = Line.begin(rule, routes)
    seen = {line.held()}
    left: list[tuple[Kept, Way]] = [(line.put_away(), ())]
    counts: Counter[str] = Counter(states=1)
    while left:
        kept, way = left.pop()
        line.truth = kept[-1]
        for step in line.steps():
            line.take_up(kept)
            clashed = _step(line, step, (*way, step), counts)
            if not clashed and (held := line.held()) not in seen:
                seen.add(held)
                left.append((line.put_away(), (*way, step)))
                counts["states"] += 1
    return counts


def _step(line: Line, step: tuple[str, str], way: Way, counts: Counter[str]) -> bool:
    """Take a step, hold what is said of it against what is true; whether two trains are in one section then."""
    what, train = step
    answer, leg = line.may_go(train), line.leg(train)
    line.take(what, train)
    section = leg[0] if leg is not None and what == "goes" else None
    clashes = section is not None and len(line.inside(section)) > 1
    said = [row["section"] for row in line.session.rows("irregularity", kind="section-clash", status="open")]
    assert said == ([section] if clashes else []), (way, said)
    if what == "goes":
        counts["goings"] += 1
        counts["clashes"] += clashes
        counts["advised"] += answer == "yes"
        assert not (clashes and answer == "yes"), way
    offered = [
        one.section for t, one in line.session.state.advice.items() if one.answer == "yes" and not line.is_in_section(t)
    ]
    assert len(offered) == len(set(offered)), way
    return clashes


@pytest.mark.parametrize(
    ("rule", "routes"),
    [
        ("one-train", SHORT),
        ("track-circuit", SHORT),
        ("token", BRIEF),
        ("staff-and-ticket", FOLLOWING),
        pytest.param("token", TOWARDS, marks=pytest.mark.slow),
        pytest.param("staff-and-ticket", BRIEF, marks=pytest.mark.slow),
    ],
)
def test_every_order(rule: str, routes: dict[str, tuple[str, ...]], record_property: Callable[[str, object], None]) -> None:
    counts = explore(rule, routes)
    record_property("measured", f"{rule}: {dict(counts)}")
    assert counts["clashes"] > 0  # where it is not tried, nothing is shown
    assert counts["advised"] > 0


def test_an_answer_that_is_always_yes_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(may_go.line_ahead, "against", lambda state, going: iter(()))
    with pytest.raises(AssertionError):
        explore("one-train", BRIEF)


def main(rules: list[str]) -> None:
    """The whole line, both ways, under these rules, or all."""
    for rule in rules or RULES:
        began = time.perf_counter()
        counts = explore(rule, WHOLE)
        print(f"{rule}: {dict(counts)} in {time.perf_counter() - began:.0f} s", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
