"""Sketches as a page would send them: a small one, and any that hypothesis thinks of."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from hypothesis import strategies as st

Body = dict[str, Any]

HARD_NAMES = (
    'The "Old" Line', "it's \\ here", "<script>alert(1)</script>", "a,b;c", "# not a comment", "=1+1",
    "مرحبا الخط", "שלום", "Ærø Ø", "Straße", "東京", "🚂 & 🚃", "x" * 60, "-", "up", "Down", "off", "...", "]]", '"', "''",
    "{}", "e\u0301cole", "\N{NO-BREAK SPACE}edge\N{NO-BREAK SPACE}", "123", "W 331", "a\u200db", "\ufeffmark",
)  # fmt: skip
BAD_NAMES = ("", "   ", "two\nlines", "nul\0", "tab\tin", "\u202eturned", "x" * 61, "del\x7f", "ne\x85xt", "line\u2028sep")


def road(
    name: str = "Platform", kind: str = "running", length: str = "1400", open_: tuple[str, ...] = ("up", "down")
) -> Body:
    return {"name": name, "kind": kind, "length": length, "open": list(open_)}


def small(**others: Any) -> Body:
    """Two stations, a line, an engine and a wagon; readers at the section's ends."""
    return {
        "name": "Alder Vale",
        "scale": "87",
        "clock": "4",
        "stations": [
            {"name": "Alder", "roads": [road(), road("Dock", "siding", "520", ("down",))]},
            {"name": "Birch Halt", "roads": [road("Main", length="1.2 m")]},
        ],
        "sections": [{"length": "5200", "rule": "one-train"}],
        "vehicles": [
            {"painted": "7", "kind": "engine", "length": "145", "tags": "04A1003B68", "at": [0, 0]},
            {"painted": "W 331", "kind": "wagon", "length": "104", "tags": "", "at": [0, 1]},
        ],
        "readers": "section-ends",
        "track": False,
        "link": "serial",
        "broker": "",
        **others,
    }


def changed(path: str, value: Any) -> Body:
    """The small one with one field changed: "stations.0.name"."""
    body = small()
    *way, last = path.split(".")
    at: Any = body
    for part in way:
        at = at[int(part) if part.isdigit() else part]
    at[int(last) if last.isdigit() else last] = value
    return body


names = st.one_of(
    st.sampled_from(HARD_NAMES), st.text(st.characters(exclude_categories=("Cc", "Cs", "Zl", "Zp")), min_size=1, max_size=60)
)
lengths = st.one_of(st.integers(1, 9999).map(str), st.sampled_from(("1.4 m", "140 cm", "4 ft", '48"', "1 400", "1400,5")))
ends = st.sampled_from((["up"], ["down"], ["up", "down"]))
roads = st.fixed_dictionaries(
    {"name": names, "kind": st.sampled_from(("running", "loop", "siding", "headshunt")), "length": lengths, "open": ends}
)
vehicles = st.fixed_dictionaries(
    {
        "painted": names,
        "kind": st.sampled_from(("engine", "wagon", "brake", "coach")),
        "length": st.integers(40, 400).map(str),
        "tags": st.one_of(st.just(""), st.integers(0, 2**40 - 1).map(lambda n: f"{n:010x}")),
        "at": st.one_of(st.none(), st.tuples(st.integers(0, 3), st.integers(0, 2)).map(list)),
    }
)
rules = st.sampled_from(("one-train", "token", "staff-and-ticket", "one-train", "token", "track-circuit"))


def called(part: Body) -> str:
    return str(part["name"]).strip().casefold()


def lines(n: int) -> st.SearchStrategy[Body]:
    """The line to station n + 1, from any station further up, by either end."""
    starts = st.builds("{}.{}".format, st.integers(0, n), st.sampled_from(("up", "down")))
    minutes = st.sampled_from(("", "6", "4,5"))
    more = {"goods": minutes, "passenger": minutes, "start": st.one_of(st.just(""), starts)}
    return st.fixed_dictionaries({"length": lengths, "rule": rules, **more})


@st.composite
def sketches(draw: Any) -> Body:
    """Any sketch that has the right shape; many of them can be made, some cannot."""
    first = road("First of all", length="9000")
    stations = draw(
        st.lists(
            st.fixed_dictionaries({"name": names, "roads": st.lists(roads, max_size=3, unique_by=called)}),
            min_size=1,
            max_size=5,
            unique_by=called,
        )
    )
    stations = [{**station, "roads": [first, *station["roads"]]} for station in stations]
    sections = [draw(lines(n)) for n in range(len(stations) - 1)]
    return {
        "name": draw(names),
        "scale": draw(st.sampled_from(("87", "76.2", "43,5", "160"))),
        "clock": draw(st.sampled_from(("1", "4", "0,5"))),
        "stations": stations,
        "sections": sections,
        "vehicles": draw(st.lists(vehicles, max_size=6)),
        "readers": draw(st.sampled_from(("none", "section-ends", "road-mouths"))),
        "track": draw(st.booleans()),
        "link": draw(st.sampled_from(("serial", "mqtt"))),
        "broker": draw(st.sampled_from(("", "192.168.1.5", "layout.local"))),
    }


def fields(wrongs: Any) -> Mapping[str, str]:
    return {wrong.field: f"{wrong.message} {wrong.remedy}" for wrong in wrongs}
