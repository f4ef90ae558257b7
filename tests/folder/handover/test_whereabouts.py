"""whereabouts.csv written anew: whatever its owner's spreadsheet made of it, it is read again to what stands there."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from hypothesis import given, settings
from hypothesis import strategies as st

from bridge.core.plan import Standing
from bridge.folder import read
from bridge.folder.handover import stands_of
from bridge.folder.handover.whereabouts import whereabouts_csv

from .evenings import closed, files, railway_of

FILES = files()
RAILWAY = railway_of(FILES)
PLACES = sorted([*RAILWAY.plant.roads, *RAILWAY.plant.throats, *RAILWAY.plant.sections])
VEHICLE = {"vehicle", "Wagon no."}
FOLDERS = settings(deadline=None, max_examples=20)
TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\0\r", exclude_categories=("Cs",)), max_size=12)


@st.composite
def dialects(draw: st.DrawFn) -> dict[str, bytes]:
    """The folder with its whereabouts as some spreadsheet might write them, and what its owner has added."""
    theirs = draw(st.sampled_from([("vehicle", "road", "order"), ("Wagon no.", "stands; at", "Nr, from the left")]))
    with_order = draw(st.sampled_from(["numbers", "empty", "none"]))
    extra = draw(st.lists(st.sampled_from(["crew's word", "seen, by", 'the "real" one', "Größe"]), max_size=2, unique=True))
    header = [*theirs[: 2 if with_order == "none" else 3], *extra]
    turn = draw(st.permutations(range(len(header))))
    rows = [[s.vehicle, s.place, str(s.order) if with_order == "numbers" else ""][: len(header) - len(extra)]
            for s in RAILWAY.standing]  # fmt: skip
    if with_order == "numbers":
        rows = draw(st.permutations(rows))
    full = [[*row, *(draw(TEXT) for _ in extra)] for row in rows]
    delimiter = draw(st.sampled_from(",;\t"))
    out = io.StringIO()
    line_end = draw(st.sampled_from(["\n", "\r\n"]))
    writer = csv.writer(out, delimiter=delimiter, lineterminator=line_end, quoting=csv.QUOTE_ALL)
    writer.writerows([row[n] for n in turn] for row in [header, *full])
    mark = draw(st.sampled_from([b"", b"\xef\xbb\xbf"]))
    names = zip(("vehicle", "road", "order"), theirs, strict=True)
    mapped = [f"{ours} = '{name}'" for ours, name in names if name in header]
    plant = FILES["railway.toml"] + "\n".join(["\n[columns.whereabouts]", *mapped, ""]).encode()
    return {**FILES, "railway.toml": plant, "whereabouts.csv": mark + out.getvalue().encode()}


def by_vehicle(standing: Sequence[Standing]) -> dict[str, tuple[str, int]]:
    return {row.vehicle: (row.place, row.order) for row in standing}


@FOLDERS
@given(dialects())
def test_a_session_that_moves_nothing_leaves_everything_where_it_stood(texts: dict[str, bytes]) -> None:
    railway = railway_of(texts)
    new = whereabouts_csv(texts, stands_of(closed(texts)["vehicles"]))
    again = railway_of({**texts, "whereabouts.csv": new})
    assert by_vehicle(again.standing) == by_vehicle(railway.standing) == by_vehicle(RAILWAY.standing)
    assert whereabouts_csv({**texts, "whereabouts.csv": new}, stands_of(closed(texts)["vehicles"])) == new


@FOLDERS
@given(dialects(), st.dictionaries(st.sampled_from(sorted(RAILWAY.stock)), st.sampled_from(["off", *PLACES])), st.randoms())
def test_wherever_everything_stands_what_is_written_is_read_as_that(
    texts: dict[str, bytes], moved: dict[str, str], chance: object
) -> None:
    order = {vehicle: n for n, vehicle in enumerate(sorted(moved, key=lambda _: chance.random()), 1)}  # type: ignore[attr-defined]
    places = {v: "off" if place == "off" else (place, order[v]) for v, place in moved.items()}
    standing = stands_of(closed(texts, places)["vehicles"])
    new = whereabouts_csv(texts, standing)
    found = read({**texts, "whereabouts.csv": new})
    assert [f for f in found.findings if f.level == "fault"] == []
    assert found.railway is not None
    assert by_vehicle(found.railway.standing) == {v: (s.place, s.order) for v, s in standing.items() if s.place != "off"}


@FOLDERS
@given(dialects(), st.sampled_from(sorted(RAILWAY.stock)))
def test_what_nobody_here_knows_of_the_file_is_kept(texts: dict[str, bytes], vehicle: str) -> None:
    new = whereabouts_csv(texts, stands_of(closed(texts, {vehicle: ("marrow.platform", 1)})["vehicles"]))
    old = texts["whereabouts.csv"]
    assert new.startswith(b"\xef\xbb\xbf") == old.startswith(b"\xef\xbb\xbf")
    assert (b"\r\n" in new) == (b"\r\n" in old)
    assert rows_of(new) == rows_of(old)


def rows_of(content: bytes) -> list[tuple[str, list[str]]]:
    """By vehicle the cells that are not ours, read by Python's own csv module, blanks around them aside."""
    text = content.decode("utf-8-sig")
    tables = [list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)) for delimiter in ",;\t"]
    header, *rows = next(table for table in tables if VEHICLE & set(table[0]))
    ours = {"vehicle", "road", "order", "Wagon no.", "stands; at", "Nr, from the left"}
    name = next(n for n, cell in enumerate(header) if cell in VEHICLE)
    theirs = [n for n, cell in enumerate(header) if cell not in ours]
    found = [(row[name], [row[n].strip() for n in theirs]) for row in rows]
    return sorted(found)


def test_rows_stay_where_they_are_and_new_ones_come_behind() -> None:
    old = b"vehicle;road;order;seen by\nw8;marrow.tip;3;Mo\nw6;marrow.tip;1;Bo\nw7;marrow.tip;2;\nc1;oxlip.platform;1;Jo\n"
    texts = {**FILES, "whereabouts.csv": old, "timetable.csv": b"", "moves.csv": b""}
    places = {"w6": "off", "c1": ("marrow.tip", 9), "w1": ("oxlip.quay", 1)}
    new = whereabouts_csv(texts, stands_of(closed(texts, places)["vehicles"]))
    assert new.decode().splitlines() == [
        "vehicle;road;order;seen by",
        "w8;marrow.tip;2;Mo",
        "w7;marrow.tip;1;",
        "c1;marrow.tip;3;Jo",
        "w1;oxlip.quay;1;",
    ]


def test_without_a_file_there_is_one_afterwards_with_the_owner_s_headings() -> None:
    mapped = b'\n[columns.whereabouts]\nvehicle = "Wagon"\nroad = "Road"\norder = "Place"\n'
    texts = {"railway.toml": FILES["railway.toml"] + mapped, "stock.csv": FILES["stock.csv"]}
    standing = stands_of({"w1": {"place": "oxlip.quay", "order": 1, "sure": 1.0, "by": "seen"}})
    assert whereabouts_csv(texts, standing) == b"Wagon,Road,Place\nw1,oxlip.quay,1\n"


def test_where_nothing_stands_otherwise_the_file_is_the_same_to_the_byte() -> None:
    assert whereabouts_csv(FILES, stands_of(closed(FILES)["vehicles"])) == FILES["whereabouts.csv"]
