"""How good alerts are, as Markdown: by kind what was planted, found, late, false, under which fault; false ones an hour.

Rule: counts are shown as they are, with the number of evenings and hours that they are of. What is folded under another one
alerts nobody, and is told beside the false ones, not among them; so are foretellings (`foretold.py`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence

from .alert_evenings import Played
from .alerts import Planted, is_danger

NOTHING = "nothing"
LAYOUTS = {
    "demonstration": "the demonstration railway",
    "whole": "grown: every road, throat, section, mouth and limit",
    "mouths": "grown: readers at mouths and limits",
    "sidings": "grown: track detectors at stations, few readers",
    "limits": "grown: all at the limits of stations",
    "few": "grown: few detectors",
}
WELL = ("demonstration", "whole", "mouths")
MOST = 4  # causes named in a cell


def report(played: Sequence[Played]) -> str:
    """All tables."""
    return "\n\n".join((whole(played), quiet(played), railways(played), kinds(played), foretold(played))) + "\n"


def whole(played: Sequence[Played]) -> str:
    """What came of it in few lines."""
    done = _done(played)
    unplayed = sum(bool(each.why) for each in played)
    lines = [f"{len(done)} evenings of {_hours(done):.0f} hours; {unplayed} more gave no occasion for what was planted."]
    lines.append(_found_of([one for each in done for one in each.alerts.planted]))
    well = [one for each in done if each.layout in WELL for one in each.alerts.planted]
    lines.append(f"On the demonstration railway, whole and mouths: {_found_of(well)}")
    lines += [f"The core failed: {each.plan}: {each.failed}" for each in played if each.failed]
    return "\n".join(lines)


def _found_of(planted: Sequence[Planted]) -> str:
    """In words: dangers in time, and other kinds found; of what no detector told, how many there were."""
    told, untold = [one for one in planted if one.shown], [one for one in planted if not one.shown]
    dangers, others = ([one for one in told if is_danger(one.kind) is danger] for danger in (True, False))
    words = f"dangers of which a detector told: {_share(dangers, lambda one: one.in_time)} in time; other kinds: "
    words += f"{_share(others, lambda one: one.found)} found, {_share(others, lambda one: one.in_time)} in time. "
    of_those = sum(is_danger(one.kind) for one in untold)
    return words + f"Of {len(untold)} more nothing told while they were so ({of_those} dangers)."


def railways(played: Sequence[Played]) -> str:
    """A row for each way of placing detectors: what was planted, and of that what a detector told of."""
    rows = []
    for layout, words in LAYOUTS.items():
        planted = [one for each in _done(played) if each.layout == layout for one in each.alerts.planted]
        told = [one for one in planted if one.shown]
        dangers, others = ([one for one in told if is_danger(one.kind) is danger] for danger in (True, False))
        figures = [_share(dangers, lambda one: one.in_time), _share(others, lambda one: one.found)]
        rows += [[words, str(len(planted)), str(len(told)), *figures]] if planted else []
    head = ["railway", "planted", "a detector told", "of these dangers in time", "other kinds found"]
    return "### By railway\n\n" + _table(head, rows)


def quiet(played: Sequence[Played]) -> str:
    """False alerts an hour, by kind of evening and by how detectors are placed."""
    rows = []
    for kind in ("quiet", "mistake", "fault", "both"):
        for layout, words in LAYOUTS.items():
            evenings = [each for each in _done(played) if each.plan.kind == kind and each.layout == layout]
            rows += [_false_row(kind, words, evenings)] if evenings and kind == "quiet" else []
        rows += [_false_row(kind, "all", here)] if (here := [e for e in _done(played) if e.plan.kind == kind]) else []
    head = ["evenings with", "railway", "evenings", "hours", "false", "an hour", "of these dangers", "by kind", "folded"]
    return "### False alerts\n\n" + _table(head, rows)


def _false_row(kind: str, layout: str, evenings: Sequence[Played]) -> list[str]:
    false = [one for each in evenings for one in each.alerts.false]
    alerting, hours = [one for one in false if not one.folded], _hours(evenings)
    named = Counter(one.kind for one in alerting)
    return [
        {"quiet": "everyday noise alone", "mistake": "a mistake", "fault": "a fault", "both": "a fault and a mistake"}[kind],
        layout,
        str(len(evenings)),
        f"{hours:.1f}",
        str(len(alerting)),
        f"{len(alerting) / hours:.2f}",
        str(sum(one.level == "danger" for one in alerting)),
        _named(named),
        str(len(false) - len(alerting)),
    ]


def kinds(played: Sequence[Played]) -> str:
    """A row for each kind."""
    done = _done(played)
    planted = [(one, each) for each in done for one in each.alerts.planted]
    false = [(one, each) for each in done for one in each.alerts.false if not one.folded]
    rows = []
    for kind in sorted({one.kind for one, _ in planted} | {one.kind for one, _ in false}):
        mine = [(one, each) for one, each in planted if one.kind == kind]
        missed = [each for one, each in mine if not one.found]
        late = [each for one, each in mine if one.found and not one.in_time]
        untrue = [each for one, each in false if one.kind == kind]
        told = f"{len(mine) - len(missed)}"
        unshown = sum(not one.shown for one, _ in mine if not one.found)
        counts = [str(len(mine)), told, str(len(late)), str(unshown), str(len(untrue))]
        rows.append([f"{kind} (danger)" if is_danger(kind) else kind, *counts, _under(missed), _under(late), _under(untrue)])
    head = ["kind", "planted", "found", "late", "missed, nothing reported", "false"]
    return "### By kind\n\n" + _table([*head, "missed under", "late under", "false under"], rows)


def foretold(played: Sequence[Played]) -> str:
    """What was foretold of trains."""
    rows = []
    for kind in ("clash-ahead", "deadlock"):
        mine = [one for each in _done(played) for one in each.alerts.foretold if one.kind == kind]
        so = Counter(one.true for one in mine)
        rows.append([kind, str(len(mine)), str(so[True]), str(so[False]), str(so[None])])
    return "### Foretold of trains\n\n" + _table(["kind", "said", "so", "not so", "cannot be told"], rows)


def _done(played: Iterable[Played]) -> list[Played]:
    return [each for each in played if not each.why and not each.failed]


def _hours(played: Iterable[Played]) -> float:
    return sum(each.hours for each in played)


def _share(planted: Sequence[Planted], holds: Callable[[Planted], bool]) -> str:
    right = sum(map(holds, planted))
    return f"{right} of {len(planted)} ({right / len(planted):.3f})" if planted else "none planted"


def _under(evenings: Iterable[Played]) -> str:
    """How often under which fault."""
    return _named(Counter(each.plan.fault or NOTHING for each in evenings))


def _named(counts: Counter[str]) -> str:
    shown = ", ".join(f"{name} {n}" for name, n in counts.most_common(MOST))
    rest = sum(n for _, n in counts.most_common()[MOST:])
    return shown + (f", others {rest}" if rest else "")


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
