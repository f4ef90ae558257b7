"""Lines and columns are those an editor shows, and one slip never hides another."""

from pathlib import Path

import pytest

from bridge.folder import load, read

EXAMPLE = Path(__file__).parent / "example"
TEXTS = {path.name: path.read_bytes() for path in sorted(EXAMPLE.iterdir())}


def place(finding):
    return (finding.file, finding.line, finding.column, finding.text)


def faults(**files):
    texts = dict(TEXTS)
    for name, content in files.items():
        texts["railway.toml" if name == "railway" else f"{name}.csv"] = content
    return [f for f in read(texts).findings if f.level == "fault"]


def test_columns_count_characters_not_bytes():
    text = TEXTS["railway.toml"].replace(b"{ goods = 6, passenger = 4 }", '{ "\u00e4\u00f6" = 6, gods = 4 }'.encode())
    assert [place(f)[1:] for f in faults(railway=text)] == [(88, 13, '"\u00e4\u00f6"'), (88, 23, "gods")]


def test_columns_in_a_csv_behind_wide_letters():
    rows = TEXTS["stock.csv"].replace(b"e1,engine,tank,No. 4,180", "e1,engine,\u00fcber\u00e4lt,\U0001f682,x80".encode())
    assert [place(f) for f in faults(stock=rows)] == [("stock.csv", 2, 21, "x80")]


def test_lines_behind_a_cell_of_two_lines():
    rows = TEXTS["stock.csv"].replace(b"b1,brake", b"b1,break")
    said = faults(stock=rows)
    assert [place(f) for f in said] == [("stock.csv", 8, 4, "break")]
    assert said[0].remedy == 'Did you mean "brake"?'


def test_columns_behind_a_cell_of_two_lines():
    rows = TEXTS["stock.csv"].replace(b'on two lines",2', b'on two lines",2,"too\nmuch"')
    assert [place(f) for f in faults(stock=rows)] == [("stock.csv", 7, 17, "too")]


def test_blanks_around_cells_and_quotes():
    rows = TEXTS["whereabouts.csv"].replace(b"w3,alder.dock,1", b'  w3 ,  "alder.dok" , 1')
    assert [place(f) for f in faults(whereabouts=rows)] == [("whereabouts.csv", 6, 9, "alder.dok")]


def test_one_open_quote_costs_its_line_and_no_other():
    rows = (
        TEXTS["timetable.csv"]
        .replace(b"g1,goods,e1,birch,loop,19:11", b'g1,goods,e1,birch,"loop,19:11')
        .replace(b"p1,passenger,e2,birch", b'p1,"passenger",e2,birk')
    )
    said = faults(timetable=rows)
    assert ("timetable.csv", 3, 19) in [place(f)[:3] for f in said]
    assert ("timetable.csv", 6, 19, "birk") in [place(f) for f in said]


def test_every_syntax_error_at_once():
    text = TEXTS["railway.toml"].decode()
    for old, new in (
        ('name = "The Shelf Line"', "name = The Shelf Line"),
        ("length = 1400\n", "length = 1400 mm\n"),
        ("length = 1300.5", "lenght = = 1300.5"),
        ('open = ["down"]\nfouls', 'open = ["down"\nfouls'),
        ('kind = "headshunt"', 'kind = "headshunt'),
        ('end = "up"', "end: up"),
        ('[[section]]\nid = "birch-cinder"', "[[section]\nid = birch-cinder"),
        ("tls = false", "tls = False"),
        ('covers = "alder.dock"', "covers = \u201calder.dock\u201d"),
    ):
        assert text.count(old) == 1
        text = text.replace(old, new)
    rows = text.split("\n")
    said = faults(railway=text.encode())
    wanted = {n for n, row in enumerate(rows, 1) if row != TEXTS["railway.toml"].decode().split("\n")[n - 1]}
    assert len(wanted) == 10
    assert {f.line for f in said} == wanted
    remedies = " ".join(f.remedy for f in said)
    for mended in (
        "`length = 1400`",
        "`lenght = 1300.5`",
        '`kind = "headshunt"`',
        "`[[section]]`",
        '`id = "birch-cinder"`',
        "`tls = false`",
    ):
        assert mended in remedies


def test_braces_over_several_lines_are_one_slip():
    text = TEXTS["railway.toml"].replace(b"{ goods = 5, passenger = 4 }", b"{\n  goods = 5,\n  passenger = 4,\n}")
    said = faults(railway=text)
    assert [f.line for f in said] == [97]
    assert said[0].remedy == "Write `minutes = { goods = 5, passenger = 4 }`."


def test_what_is_repaired_is_read_on():
    text = TEXTS["railway.toml"].replace(b'kind = "running"\nlength = 1400', b"kind = runing\nlength = 1400")
    said = faults(railway=text)
    assert [f.line for f in said] == [14, 14]
    assert [f.remedy for f in said] == ['Write `kind = "runing"`.', 'Did you mean "running"?']


def test_suggestions_are_never_silly():
    rows = TEXTS["moves.csv"].replace(b"w3,alder.dock", b"w99,alder.dock")
    said = faults(moves=rows)
    assert [f.text for f in said] == ["w99"]
    assert "Did you mean" not in said[0].remedy
    rows = TEXTS["moves.csv"].replace(b"w3,alder.dock,birch.coal", b"w3,dock,birch.koal")
    assert [f.remedy for f in faults(moves=rows)] == ['Write "alder.dock".', 'Did you mean "birch.coal"?']


@pytest.mark.parametrize(
    ("content", "line", "column"),
    [
        (TEXTS["stock.csv"].replace(b"Q 12", b"Q \xfc12"), 5, 16),
        (TEXTS["stock.csv"].replace(b"Q 12", b"Q \x0012"), 5, 16),
        (b"\xff\xfe" + TEXTS["stock.csv"].decode().encode("utf-16-le"), 1, 1),
        (b"\xfe\xff" + TEXTS["stock.csv"].decode().encode("utf-16-be"), 1, 1),
    ],
    ids=["latin", "nul", "utf-16-le", "utf-16-be"],
)
def test_bytes_that_are_no_utf8(content, line, column):
    assert [(f.file, f.line, f.column) for f in faults(stock=content)] == [("stock.csv", line, column)]


def test_a_file_full_of_foreign_bytes_is_told_shortly():
    said = faults(stock=b"vehicle,kind,length\n" + b"\xe4,wagon,100\n" * 500)
    assert len([f for f in said if "UTF-8" in f.message]) == 21


def test_every_file_has_its_own_faults_in_one_go():
    said = faults(
        railway=TEXTS["railway.toml"].replace(b"scale = 76.2", b"scale = -1"),
        stock=TEXTS["stock.csv"].replace(b"180", b"0"),
        whereabouts=TEXTS["whereabouts.csv"].replace(b"cinder.main,1", b"cinder.main,first"),
        timetable=TEXTS["timetable.csv"].replace(b"19:20", b"7.20 pm"),
        moves=TEXTS["moves.csv"].replace(b"cinder.hopper", b"cinder.hoper"),
    )
    assert [place(f) for f in said] == [
        ("railway.toml", 5, 9, "-1"),
        ("stock.csv", 2, 22, "0"),
        ("whereabouts.csv", 7, 16, "first"),
        ("timetable.csv", 5, 30, "7.20 pm"),
        ("moves.csv", 3, 19, "cinder.hoper"),
    ]


@pytest.mark.parametrize(
    ("old", "new", "text", "remedy"),
    [
        ('at = "alder.dock@down"', 'at = "alder.dock@up"', '"alder.dock@up"', "alder.dock@down"),
        ('at = "alder.dock@down"', 'at = "alder.dock"', '"alder.dock"', "alder.dock@down"),
        (
            'at = "alder.dock@down"',
            'at = "alder-birch@cinder"',
            '"alder-birch@cinder"',
            "alder-birch@alder or alder-birch@birch",
        ),
        ('at = "alder.dock@down"', 'at = "alder.dok@down"', '"alder.dok@down"', "alder.dock@down"),
        ('covers = "alder.dock"', 'covers = "dock"', '"dock"', '"alder.dock"'),
        ('at = "alder.down"', 'at = "alder.dock"', '"alder.dock"', "alder.up"),
        ('on = ["alder.dock"]', 'on = ["alder.neck"]', '"alder.neck"', "correct `at`"),
        ('on = ["alder.dock"]', 'on = ["birch.coal"]', '"birch.coal"', "Roads of alder"),
        ('on = ["alder.dock"]', 'on = ["alder.platform"]', '["alder.platform", "alder.loop"]', "out of one"),
        ('station = "birch"', 'station = "cinder"', '"cinder"', "alder or birch"),
        ('headshunt = "neck"', 'headshunt = "dock"', '"dock"', "Name a road that is"),
        ('reaches = ["alder-birch"]', 'reaches = ["birch-cinder"]', '"birch-cinder"', "alder-birch"),
        ('fouls = ["platform"]', 'fouls = ["dock"]', '"dock"', "Take it out"),
        ('to = "birch.up"', 'to = "alder.down"', '"alder.down"', "other end"),
        ('input = 2\n\n[[detector]]\nid = "birch-c', 'input = 1\n\n[[detector]]\nid = "birch-c', "1", "another input"),
        ('id = "neck"', 'id = "up"', '"up"', "another id"),
        ('"04a1003b69"', '"04C3000021"', "04C3000021", "another id"),
        ('"04a1003b69"', '"04:a1:00:3b:6a"', '"04:a1:00:3b:6a"', '"04A1003B6A"'),
        ("invert = true", 'sees = "any"', "sees", "Take it out"),
    ],
)
def test_what_refers_or_means_wrongly(old, new, text, remedy):
    before = TEXTS["railway.toml"].decode()
    assert before.count(old) == 1
    said = faults(railway=before.replace(old, new).encode())
    told = next(f for f in said if f.text == text)
    assert remedy in told.remedy


def test_a_section_by_track_circuit_needs_a_track_detector():
    text = TEXTS["railway.toml"].replace(b'covers = "birch-cinder"', b'covers = "birch.down"')
    assert [(f.line, f.text) for f in faults(railway=text)] == [(92, '"birch-cinder"')]


def test_a_folder_on_disk(tmp_path):
    assert [f.level for f in load(tmp_path / "nowhere").findings] == ["fault"]
    for name, content in TEXTS.items():
        (tmp_path / name).write_bytes(content)
    assert load(tmp_path).railway == read(TEXTS).railway
    (tmp_path / "stock.csv").unlink()
    (tmp_path / "stock.csv").mkdir()
    found = load(tmp_path)
    assert found.railway is None
    assert [(f.file, f.level) for f in found.findings if f.file == "stock.csv"] == [("stock.csv", "fault")]
    (tmp_path / "railway.toml").unlink()
    assert any("no railway.toml" in f.message for f in load(tmp_path).findings)
    assert load(tmp_path / "moves.csv").railway is None
