"""Whatever bytes stand in a folder, reading it answers with findings and never raises; what is TOML is read as TOML."""

import csv
import io
import tomllib
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from bridge.folder import read
from bridge.folder.finding import Findings
from bridge.folder.sheet import sheet
from bridge.folder.toml_statements import Pair, cut, statements
from bridge.folder.toml_values import Items, Leaf, Table
from bridge.virtual.growing.growth import Growth
from bridge.virtual.growing.railway import grow

EXAMPLE = Path(__file__).parent / "example"
TEXTS = {path.name: path.read_bytes() for path in sorted(EXAMPLE.iterdir())}
quick = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
SMALL = Growth(stations=(3, 4))
files = st.sampled_from(sorted(TEXTS))
PIECES = [
    b'"',
    b"[",
    b"]",
    b"[[",
    b"{",
    b"}",
    b"=",
    b",",
    b";",
    b"\n",
    b"\r",
    b"\0",
    b"#",
    b"'''",
    b'"""',
    b"\xff",
    b".",
    b"@",
    b"nan",
    b"9" * 40,
]


def well_told(found):
    assert (found.railway is None) == any(f.level == "fault" for f in found.findings)
    for finding in found.findings:
        text = found.texts.get(finding.file, b"").replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        assert 1 <= finding.line <= max(text.count(b"\n") + 1, text.count(b"\n\0") + 1)
        assert finding.column >= 1
        assert finding.message
        assert finding.remedy


HARD = [
    "\t=",
    "= 3",
    "a.b.c = = 3",
    "a" + ".a" * 5000 + " = 1",
    "[a" + ".a" * 5000 + "]",
    "a = " + "[" * 5000,
    "a = " + "[" * 5000 + "]" * 5000,
    "a = " + "{b = " * 5000,
    "[[",
    "[]",
    "[[]]",
    "a = " + " " * 50_000 + "b c",
    "id" + " " * 50_000 + "x",
    "[a" + " " * 50_000 + "b",
    'a = "\\ud800"',
    "a = 1\na.b = 2",
    "[railway.name]\nx = 1",
    "[[railway]]\n[[railway]]",
    "station = 3\n[[station.road]]",
]


@pytest.mark.parametrize("text", HARD, ids=lambda text: text[:12])
def test_text_that_is_hard_to_read(text):
    for before in ("", TEXTS["railway.toml"].decode() + "\n"):
        found = read({**TEXTS, "railway.toml": (before + text).encode()})
        well_told(found)
        assert found.railway is None


@quick
@given(files, st.binary(max_size=300))
def test_any_bytes(name, content):
    well_told(read({**TEXTS, name: content}))


@quick
@given(st.dictionaries(files, st.binary(max_size=200)))
def test_any_files(texts):
    well_told(read(texts))


@quick
@given(
    files,
    st.lists(
        st.tuples(st.floats(0, 1), st.integers(0, 30), st.sampled_from(PIECES) | st.binary(max_size=4)),
        min_size=1,
        max_size=6,
    ),
)
def test_any_damage(name, cuts):
    content = TEXTS[name]
    for where, length, piece in cuts:
        at = int(where * len(content))
        content = content[:at] + piece + content[at + length :]
    well_told(read({**TEXTS, name: content}))


@quick
@given(files, st.randoms(use_true_random=False))
def test_lines_in_any_order(name, random):
    rows = TEXTS[name].split(b"\n")
    random.shuffle(rows)
    well_told(read({**TEXTS, name: b"\n".join(rows)}))


@quick
@given(st.text(max_size=300))
def test_a_damaged_toml_is_cut_into_pieces_that_cover_it(text):
    rows = text.split("\n")
    taken = [n for first, last in cut(rows) for n in range(first, last + 1)]
    assert taken == sorted(set(taken))
    assert all(not rows[n].strip() or rows[n].lstrip().startswith("#") for n in range(len(rows)) if n not in taken)


bare = st.text("abcdefghijklmnopqrstuvwxyz-_0123456789", min_size=1, max_size=8)


def cells_moved(text: str, chance: Random) -> str:
    """A sheet with some of its cells put where others of their column stand, some emptied, rows lost and said twice."""
    head, *rows = [line.split(",") for line in text.splitlines()]
    for _ in range(chance.randint(1, 12)):
        column, (one, other) = chance.randrange(len(head)), (chance.choice(rows), chance.choice(rows))
        if column < min(len(one), len(other)):
            one[column] = other[column] if chance.random() < 0.8 else ""
    rows = [row for row in rows for _ in range(chance.choices((0, 1, 2), (1, 30, 1))[0])]
    return "\n".join(",".join(row) for row in (head, *rows)) + "\n"


@pytest.mark.parametrize("seed", range(60))
def test_any_railway_with_cells_moved_about(seed):
    """Plans that read well and mean anything: trains that turn, wait and lift where they please."""
    texts, chance = dict(grow(seed, SMALL).texts), Random(seed)
    for name in chance.sample(["whereabouts.csv", "timetable.csv", "moves.csv"], chance.randint(1, 3)):
        texts[name] = cells_moved(texts[name], chance)
    well_told(read({name: text.encode() for name, text in texts.items()}))


leaves = st.booleans() | st.integers(-(2**40), 2**40) | st.floats(allow_nan=False) | st.text(max_size=12) | st.dates()
values = st.recursive(leaves, lambda inner: st.lists(inner, max_size=4), max_leaves=8)


def toml(value):
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return '"' + "".join(c if c.isalnum() or c == " " else f"\\U{ord(c):08x}" for c in value) + '"'
    if isinstance(value, list):
        return "[\n  " + ",\n  ".join(toml(item) for item in value) + " # end\n]" if value else "[]"
    return repr(value).removesuffix("e") if not hasattr(value, "isoformat") else value.isoformat()


def plain(value):
    if isinstance(value, Leaf):
        return value.value
    if isinstance(value, Items):
        return [plain(item) for item in value.values]
    assert isinstance(value, Table)
    return {key: plain(entry.value) for key, entry in value.entries.items()}


@quick
@given(st.dictionaries(bare, values, max_size=6), st.booleans())
def test_values_are_those_of_the_library(table, damaged):
    """Whole, or cut into statements because another line is broken: the values are what tomllib reads."""
    text = "".join(f"{key} = {toml(value)}\n" for key, value in table.items())
    findings = Findings()
    read_text = text + ("zz = = 1\n" if damaged and "zz" not in table else "")
    pairs = [s for s in statements("railway.toml", read_text, findings) if isinstance(s, Pair)]
    found = {pair.names[0].text: plain(pair.value) for pair in pairs if pair.names[0].text != "zz" or "zz" in table}
    assert found == tomllib.loads(text)


cells = st.text(st.characters(exclude_categories=("Cs", "Cc"), exclude_characters='"'), max_size=8).map(str.strip)


@quick
@given(
    st.lists(
        st.lists(st.one_of(cells, cells.map(lambda c: f'say "{c}"\nagain')), min_size=2, max_size=4), min_size=1, max_size=5
    )
)
def test_cells_are_those_of_the_csv_module(rows):
    """RFC 4180, as the standard library reads and writes it; lines are counted by it too."""
    rows = [["head", "row"], *[row for row in rows if any(cell.strip(",;\t ") for cell in row)]]
    out = io.StringIO()
    csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows(rows)
    findings = Findings()
    found = sheet("stock.csv", out.getvalue(), findings)
    assert found is not None
    assert findings.in_order() == ()
    assert [[cell.text for cell in row] for row in (found.header, *found.rows)] == [
        [cell.strip() for cell in row] for row in rows
    ]
    reader, lines = csv.reader(io.StringIO(out.getvalue())), [1]
    for _ in reader:
        lines.append(reader.line_num + 1)
    assert [row[0].line for row in (found.header, *found.rows)] == lines[:-1]
