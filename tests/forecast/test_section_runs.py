"""Section conflicts of a timetable, held against two libraries that know nothing of railways.

Source of what is a conflict: not more than one train in a block section on the same line at once (LNER Regulations
1009/1, Absolute Block). Judges: CP-SAT of OR-Tools (a section is a machine that takes one job at a time), `intervaltree`
and `portion` (half-open intervals). That one train may enter at the second at which another comes out: common practice, no
source.
"""

from __future__ import annotations

import re
from collections import Counter
from itertools import combinations
from random import Random

import portion
import pytest
from intervaltree import IntervalTree
from ortools.sat.python import cp_model

from bridge.core.plan import Call, Railway, Working
from bridge.core.plant import Plant, Section, SectionRule
from bridge.folder import read, reading
from bridge.folder.finding import Finding, Findings
from bridge.folder.toml_values import Table
from bridge.forecast.section_runs import overlapping, runs

from .random_timetables import TrueRun, random_line, random_timetable

TIMETABLES, ON_EACH_LINE = 1000, 25
TOLD = re.compile(
    r"Two trains in section (\S+): (\S+) from (\S+) to (\S+) \(.* line (\d+)\) and (\S+) from (\S+) to (\S+)\."
)
Pair = frozenset[TrueRun]


def pairs_by_intervaltree(booked: list[TrueRun]) -> set[Pair]:
    found: set[Pair] = set()
    for section in {run.section for run in booked}:
        here = [run for run in booked if run.section == section]
        tree = IntervalTree.from_tuples((run.enters_s, run.leaves_s, run) for run in here)
        meets = ((run, other.data) for run in here for other in tree.overlap(run.enters_s, run.leaves_s))
        found.update(frozenset(pair) for pair in meets if pair[0].working != pair[1].working)
    return found


def pairs_by_portion(booked: list[TrueRun]) -> set[Pair]:
    spans = {run: portion.closedopen(run.enters_s, run.leaves_s) for run in booked}
    alike = (pair for pair in combinations(booked, 2) if pair[0].section == pair[1].section)
    return {
        frozenset(pair) for pair in alike if pair[0].working != pair[1].working and spans[pair[0]].overlaps(spans[pair[1]])
    }


def solved(model: cp_model.CpModel) -> tuple[bool, cp_model.CpSolver]:
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    return solver.solve(model) in (cp_model.OPTIMAL, cp_model.FEASIBLE), solver


def workable_by_cp_sat(booked: list[TrueRun]) -> bool:
    """Whether the timetable can be worked as it is booked."""
    model = cp_model.CpModel()
    for section in {run.section for run in booked}:
        here = [run for run in booked if run.section == section]
        model.add_no_overlap(model.new_fixed_size_interval_var(r.enters_s, r.leaves_s - r.enters_s, "") for r in here)
    return solved(model)[0]


def pairs_by_cp_sat(booked: list[TrueRun]) -> set[Pair]:
    """The pairs that cannot both be, each pair asked for itself: as many as can be are granted, the others overlap."""
    model = cp_model.CpModel()
    asked: dict[Pair, cp_model.IntVar] = {}
    for pair in combinations(booked, 2):
        if pair[0].section == pair[1].section and pair[0].working != pair[1].working:
            granted = asked[frozenset(pair)] = model.new_bool_var("")
            model.add_no_overlap(
                model.new_optional_fixed_size_interval_var(r.enters_s, r.leaves_s - r.enters_s, granted, "") for r in pair
            )
    model.maximize(sum(asked.values()))
    ok, solver = solved(model)
    assert ok
    return {pair for pair, granted in asked.items() if not solver.value(granted)}


def seconds(text: str) -> int:
    parts = [int(part) for part in text.split(":")]
    return parts[0] * 3600 + parts[1] * 60 + (parts[2] if len(parts) > 2 else 0)


def told(findings: tuple[Finding, ...], booked: list[TrueRun]) -> Counter[Pair]:
    """The pairs that `check` names, each found again among the true runs by train, section and times, at its line."""
    found: Counter[Pair] = Counter()
    for finding in findings:
        match = TOLD.fullmatch(finding.message)
        if match is None:
            continue
        section, *rest = match.groups()
        trains = [(rest[n], seconds(rest[n + 1]), seconds(rest[n + 2])) for n in (0, 4)]
        pair = [next(r for r in booked if (r.section, r.working, r.enters_s, r.leaves_s) == (section, *t)) for t in trains]
        assert (finding.level, finding.file) == ("conflict", "timetable.csv")
        assert [run.row for run in pair] == [int(rest[3]), finding.line]
        assert pair[0].enters_s <= pair[1].enters_s
        found[frozenset(pair)] += 1
    return found


@pytest.fixture
def parsed_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The railway.toml of a line is parsed once for all its timetables: that is most of the time that a reading takes."""
    known: dict[str, Table] = {}
    parse = reading.tree

    def tree(file: str, text: str, findings: Findings) -> Table:
        return known[text] if text in known else known.setdefault(text, parse(file, text, findings))

    monkeypatch.setattr(reading, "tree", tree)


@pytest.mark.usefixtures("parsed_once")
def test_conflicts_are_those_of_the_libraries() -> None:
    chance, clashing, pairs = Random(7), 0, 0
    for n in range(TIMETABLES):
        if n % ON_EACH_LINE == 0:
            line = random_line(chance)
        timetable = random_timetable(chance, line)
        result = read(timetable.texts)
        assert result.railway is not None, result.findings
        said = told(result.findings, timetable.runs)
        expected = pairs_by_intervaltree(timetable.runs)
        assert expected == pairs_by_portion(timetable.runs) == pairs_by_cp_sat(timetable.runs)
        assert said == Counter(expected), timetable.texts["timetable.csv"].decode()
        assert workable_by_cp_sat(timetable.runs) == (not said)
        clashing, pairs = clashing + bool(said), pairs + len(said)
    print(f"{TIMETABLES} timetables, {clashing} with section conflicts, {pairs} pairs of trains")
    assert 0.35 < clashing / TIMETABLES < 0.65


MINUTE_S = 60.0
STATIONS = ("ash", "birch", "cedar")
LINE = {
    "a-b": Section("a-b", "ash.down", "birch.up", 3000, SectionRule.STAFF_AND_TICKET, minutes={"goods": 6}),
    "b-c": Section("b-c", "birch.down", "cedar.up", 3000, SectionRule.TOKEN),
}
PLANT = Plant("p", "P", 76, 1, {}, {}, {}, LINE, {}, {})


def working(name: str, *calls: str, kind: str = "goods") -> Working:
    """Each call "station arrive depart" in minutes, "-" where not given, and a fourth word for whom it waits."""
    rows = []
    for n, call in enumerate(calls):
        station, arrive, depart, *wait = call.split()
        times = [None if word == "-" else float(word) * MINUTE_S for word in (arrive, depart)]
        rows.append(Call(n, station, f"{station}.main", times[0], times[1], tuple(wait)))
    return Working(name, kind, f"e-{name}", tuple(rows))


def booked(*workings: Working) -> list[tuple[str, str, float, float]]:
    railway = Railway(PLANT, {}, (), {w.id: w for w in workings}, ())
    return [(r.section, r.working, r.enters_s / 60, r.leaves_s / 60) for r in runs(railway, workings)]


def clashes(*workings: Working) -> list[tuple[str, str, str]]:
    railway = Railway(PLANT, {}, (), {w.id: w for w in workings}, ())
    return [(first.section, first.working, second.working) for first, second in overlapping(runs(railway, workings))]


@pytest.mark.parametrize(
    ("calls", "expected"),
    [
        (("ash - 10", "birch 15 -"), [("a-b", 10, 15)]),
        (("ash - 10", "birch - -"), [("a-b", 10, 16)]),
        (("ash - -", "birch 15 -"), [("a-b", 9, 15)]),
        (("ash - -", "birch - -"), []),
        (("birch - 10", "cedar - -"), []),
        (("ash - 10", "birch - 14", "cedar 20 -"), [("a-b", 10, 14), ("b-c", 14, 20)]),
        (("ash - 10", "birch 15 -", "cedar 20 -"), [("a-b", 10, 15), ("b-c", 15, 20)]),
        (("ash - 10", "birch 15 - x", "cedar 20 -"), [("a-b", 10, 15)]),
        (("cedar - 10", "birch - 30 x", "ash 40 -"), [("a-b", 30, 40)]),
        (("ash - 1438", "birch 1445 -"), [("a-b", 1438, 1445)]),
        (("ash - 10", "birch 8 -"), []),
        (("birch - 10", "cedar 10 -"), [("b-c", 10, 10)]),
    ],
    ids=lambda value: ", ".join(value) if value and isinstance(value[0], str) else "",
)
def test_when_a_train_is_in_a_section(calls: tuple[str, ...], expected: list[tuple[str, float, float]]) -> None:
    """Worked by hand; a goods train has six minutes for a-b, and none are booked for b-c."""
    assert booked(working("g", *calls)) == [(section, "g", *span) for section, *span in expected]


@pytest.mark.parametrize(
    ("other", "clash"),
    [
        (("birch - 16", "ash 20 -"), False),
        (("birch - 15", "ash 20 -"), True),
        (("birch - 4", "ash 10 -"), False),
        (("birch - 4", "ash 11 -"), True),
        (("ash - 12", "birch 18 -"), True),
        (("ash - 16", "birch 20 -"), False),
        (("birch - 12", "ash 12 -"), True),
        (("birch - 10", "ash 10 -"), False),
        (("birch - 16", "ash 16 -"), False),
        (("ash - 10", "birch 16 -"), True),
        (("birch - 12", "cedar 14 -"), False),
    ],
)
def test_what_meets_in_a_section(other: tuple[str, ...], clash: bool) -> None:
    """g is in a-b from 10 to 16: another way or the same, on a ticket or not, nobody else is while it is there. A run that
    takes no whole minute counts where it falls within."""
    found = clashes(working("g", "ash - 10", "birch 16 -"), working("h", *other))
    assert [(section, {one, two}) for section, one, two in found] == ([("a-b", {"g", "h"})] if clash else [])


def test_each_pair_of_three_is_named() -> None:
    three = [working(name, f"ash - {start}", f"birch {start + 6} -") for name, start in (("g", 10), ("h", 12), ("k", 14))]
    assert clashes(*three) == [("a-b", "g", "h"), ("a-b", "g", "k"), ("a-b", "h", "k")]


def test_a_section_for_each_direction() -> None:
    """Where each of two sections is worked one way, trains that meet do so on different ones."""
    line = {
        "down": Section("down", "ash.down", "birch.up", 3000, SectionRule.TRACK_CIRCUIT, ("down",)),
        "up": Section("up", "ash.down", "birch.up", 3000, SectionRule.TRACK_CIRCUIT, ("up",)),
    }
    both = [working("g", "ash - 10", "birch 16 -"), working("h", "birch - 11", "ash 17 -")]
    railway = Railway(Plant("p", "P", 76, 1, {}, {}, {}, line, {}, {}), {}, (), {w.id: w for w in both}, ())
    assert [(run.section, run.working) for run in runs(railway, both)] == [("down", "g"), ("up", "h")]
    assert overlapping(runs(railway, both)) == []
