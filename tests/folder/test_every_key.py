"""Delete, mistype and duplicate every key and header of railway.toml: each fault is told at its line, and nothing raises.

Which keys may be missing is the contract's word (a key with "unless said" or a default, and what is only a hint); it stands
here a second time, so that reader and test cannot share a slip.
"""

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

import pytest

from bridge.folder import FolderRead, read

EXAMPLE = Path(__file__).parent / "example"
TEXTS = {path.name: path.read_bytes() for path in sorted(EXAMPLE.iterdir())}
LINES = TEXTS["railway.toml"].decode().split("\n")

REQUIRED = {
    "[railway]": "id name scale clock",
    "[[station]]": "id name",
    "[[station.road]]": "id kind length open",
    "[[station.throat]]": "end",
    "[[section]]": "id from to length rule",
    "[[board]]": "id link",
    "[limits]": "",
    "[broker]": "host",
    "[columns.stock]": "",
    "[columns.moves]": "",
}
OF_EVERY_DETECTOR = "id kind board input"
OF_KIND = {
    "track": "covers",
    "treadle": "at sees",
    "reader": "at",
    "points": "at",
    "proof": "guards",
    "token-rest": "token station",
    "power": "feeds",
}
REFERRED_TO = {"id", "from", "to", "open"}
FREE_TEXT = {"name", "port", "host", "user"}


@dataclass(frozen=True)
class Key:
    """One `key = value` line; lines count from 1."""

    line: int
    key: str
    value: str
    header: str
    header_line: int
    kind: str

    @property
    def required(self):
        if self.header == "[[detector]]":
            return self.key in f"{OF_EVERY_DETECTOR} {OF_KIND[self.kind]}".split()
        return self.key in REQUIRED[self.header].split()

    def __str__(self):
        return f"{self.line}-{self.header.strip('[]')}-{self.key}"


def keys():
    header, header_line, found = "", 0, []
    for number, text in enumerate(LINES, 1):
        if text.startswith("["):
            header, header_line = text, number
        elif match := re.match(r"(\w+) = (.*)", text):
            block = "\n".join(LINES[header_line:]).split("\n[", 1)[0]
            kind = re.search(r'^kind = "(.*)"', block, re.MULTILINE)
            found.append(Key(number, match[1], match[2], header, header_line, kind[1] if kind else ""))
    return found


KEYS = keys()
HEADERS = [(number, text) for number, text in enumerate(LINES, 1) if text.startswith("[")]
FIRST = {(key.header, key.kind, key.key): key for key in reversed(KEYS)}
each_key = pytest.mark.parametrize("key", KEYS, ids=str)
one_of_each = pytest.mark.parametrize("key", FIRST.values(), ids=str)
"""One of several tables of a kind is enough where a key is tried in many ways."""
each_header = pytest.mark.parametrize(("line", "header"), HEADERS)


def of_keys(wanted):
    return pytest.mark.parametrize("key", [key for key in KEYS if wanted(key)], ids=str)


def read_with(*changed: tuple[int, list[str]]) -> FolderRead:
    """The example with lines (from 1) replaced."""
    rows: list[list[str]] = [[row] for row in LINES]
    for line, text in changed:
        rows[line - 1] = text
    return read({**TEXTS, "railway.toml": "\n".join(row for group in rows for row in group).encode()})


def faults(found: FolderRead, file="railway.toml"):
    assert (found.railway is None) == any(f.level == "fault" for f in found.findings)
    for finding in found.findings:
        assert finding.message
        assert finding.remedy
        assert finding.line >= 1
        assert finding.column >= 1
    return [f.line for f in found.findings if f.level == "fault" and f.file == file]


def test_the_example_has_every_key_of_the_contract_and_no_fault():
    found = read(TEXTS)
    assert [f for f in found.findings if f.level != "advice"] == []
    assert found.railway is not None
    assert {key.kind for key in KEYS if key.header == "[[detector]]"} == set(OF_KIND)
    wanted = "fouls reaches headshunt directions minutes token_tags port user tls invert clear_after side"
    assert set(wanted.split()) <= {key.key for key in KEYS}


@each_key
def test_deleted_key(key):
    told = faults(read_with((key.line, [])))
    if key.required:
        assert key.header_line in told
    elif key.header.startswith("[columns"):  # then the header row lacks the column: told there, or the column is not read
        assert told == []
    else:
        assert told == []


@one_of_each
def test_mistyped_key(key):
    for word in (key.key + "x", key.key[:-1], key.key.upper(), "q"):
        found = read_with((key.line, [f"{word} = {key.value}"]))
        assert key.line in faults(found), word
        said = next(f for f in found.findings if f.line == key.line and f.file == "railway.toml")
        assert said.text == word
        assert said.column == 1, word


def other_type(value):
    return {'"': "7", "[": '"text"', "{": "5", "t": "3", "f": "3"}.get(value[0], '"text"')


@each_key
def test_value_of_another_type(key):
    found = read_with((key.line, [f"{key.key} = {other_type(key.value)}"]))
    assert key.line in faults(found)
    said = next(f for f in found.findings if f.line == key.line and f.file == "railway.toml")
    assert said.column == len(key.key) + 4


@one_of_each
def test_value_that_is_no_toml(key):
    for value in ("", "= 77", '"open', "[1, 2", "what is this", "1,5"):
        told = faults(read_with((key.line, [f"{key.key} = {value}"])))
        assert key.line in told, value
        if key.key not in REFERRED_TO:
            assert set(told) == {key.line}, f"{value}: an error costs its own line and no other"


@of_keys(lambda key: key.value.startswith('"') and key.key not in FREE_TEXT)
def test_word_that_means_nothing(key):
    assert key.line in faults(read_with((key.line, [f'{key.key} = "No such thing!"'])))


@of_keys(lambda key: re.fullmatch(r"[\d.]+", key.value))
def test_number_that_cannot_be(key):
    may_be_nothing = {"clear_after", "occupied_for", "early_by", "due_before"}
    for value in ("0", "-5", "nan", "1e400", "9" * 400, "9" * 5000, "true"):
        told = faults(read_with((key.line, [f"{key.key} = {value}"])))
        assert (key.line in told) != (value == "0" and key.key in may_be_nothing), value


@each_key
def test_duplicated_key(key):
    found = read_with((key.line, [LINES[key.line - 1]] * 2))
    assert faults(found) == [key.line + 1]
    assert f"line {key.line}" in found.findings[0].message


@of_keys(lambda key: key.value.startswith("["))
def test_list_items(key):
    items = tomllib.loads(f"v = {key.value}")["v"]
    for bad in ([*items, "No such thing!"], [*items, items[0]], [*items, 5], [*items, ["up"]], [*items, ""]):
        text = "[" + ", ".join(repr(item).replace("'", '"') for item in bad) + "]"
        assert key.line in faults(read_with((key.line, [f"{key.key} = {text}"])))


@each_header
def test_deleted_header(line, header):
    end = next((n for n, _ in HEADERS if n > line), len(LINES) + 1)
    told = faults(read_with((line, [])))
    if header in ("[limits]", "[broker]", "[columns.stock]", "[columns.moves]"):
        assert told
    assert told == [] or min(told) <= end
    assert told


@each_header
def test_mistyped_header(line, header):
    mistyped = {
        "open": header[:-1],
        "half": header.replace("]", "", 1) if header.endswith("]]") else header[1:],
        "brackets": header.replace("[[", "[").replace("]]", "]") if header.startswith("[[") else header.replace("[", "[["),
        "more": re.sub(r"(\w)(\]+)$", r"\1x\2", header),
        "less": re.sub(r"\w(\]+)$", r"\1", header),
        "bare": header.strip("[]"),
        "braces": header.replace("]", "}"),
    }
    for how, text in mistyped.items():
        assert line in faults(read_with((line, [text]))), how


@each_header
def test_duplicated_header(line, header):
    told = faults(read_with((line, [header, header])))
    assert line in told or line + 1 in told


@each_header
def test_duplicated_table(line, header):
    end = next((n for n, _ in HEADERS if n > line), len(LINES) + 1) - 1
    block = [row for row in LINES[line - 1 : end] if row]
    found = read_with((end, [*LINES[end - 1 : end], *block]))
    second = range(end + 1, end + len(block) + 1)
    assert any(fault in second for fault in faults(found))
    assert any(f"line {n}" in f.message for f in found.findings for n in range(line, end + 1))
