"""What README.md, DEVELOPERS.md and the notes for boards say is true of the program and of the tree."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bridge import cli
from bridge.core.events import FolderTaken, Journalled
from bridge.core.fold import fold
from bridge.core.irregularities import KINDS
from bridge.core.state import fresh
from bridge.core.view import view
from bridge.folder import FolderRead, read
from bridge.folder.setting_tables import COLUMNS
from bridge.wire.records import Said

ROOT = Path(__file__).resolve().parent.parent
TEXTS = ("README.md", "DEVELOPERS.md", "firmware_notes/README.md")
EVENING = {
    "stock.csv": "vehicle,kind,length\ne1,engine,145\nw1,wagon,116\n",
    "whereabouts.csv": "vehicle,road,order\ne1,alder.platform,1\nw1,alder.dock,1\n",
    "timetable.csv": "working,kind,engine,station,road,arrive,depart\n"
    "g1,goods,e1,alder,platform,,19:10\ng1,goods,e1,birch,platform,19:20,\n",
    "moves.csv": "vehicle,from,to,working\nw1,alder.dock,birch.platform,g1\n",
}


def text_of(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def small_plant(**others: str) -> FolderRead:
    (plant,) = re.findall(r"```toml\n(.*?)```", text_of("README.md"), re.DOTALL)
    return read({name: text.encode() for name, text in {"railway.toml": plant, **others}.items()})


def command_names() -> list[str]:
    actions = cli.parser()._subparsers
    assert actions is not None
    return [name for action in actions._group_actions for name in action.choices or ()]


def test_every_command_stands_in_the_readme() -> None:
    assert [name for name in command_names() if f"| `numbertaker {name}" not in text_of("README.md")] == []


@pytest.mark.parametrize("text", TEXTS)
def test_every_command_named_in_the_texts_exists(text: str) -> None:
    named = re.findall(r"numbertaker ([a-z]+)\b", text_of(text))
    assert [name for name in named if name not in command_names()] == []


@pytest.mark.parametrize("text", TEXTS)
def test_every_path_named_in_the_texts_exists(text: str) -> None:
    found = re.findall(r"`((?:bridge|web|tests|demo|firmware_notes|\.ci)/[^`\s]*)`", text_of(text))
    assert [name for name in found if not (ROOT / name).exists()] == []


@pytest.mark.parametrize("text", TEXTS)
def test_every_link_in_the_texts_leads_somewhere(text: str) -> None:
    page = ROOT / text
    for target in re.findall(r"\]\(([^)]+)\)", text_of(text)):
        name, _, heading = target.partition("#")
        assert not name.startswith("http"), f"{target}: the texts need no network"
        linked = (page.parent / name).resolve() if name else page
        assert linked.exists(), target
        headings = re.findall(r"^#+ (.+)$", linked.read_text(encoding="utf-8"), re.MULTILINE)
        assert not heading or heading in [re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in headings], target


def test_the_small_plant_of_the_readme_is_a_railway() -> None:
    found = small_plant()
    assert [finding.message for finding in found.findings if finding.file == "railway.toml"] == []
    assert found.railway is not None
    assert (len(found.railway.plant.detectors), found.railway.plant.scale) == (3, 76.2)


def test_every_column_of_the_folder_stands_in_the_readme() -> None:
    for file, columns in COLUMNS.items():
        listed = re.search(rf"\| `{file}\.csv` \|[^`]*`([^`]+)`", text_of("README.md"))
        assert listed is not None, file
        assert listed[1].split(", ") == list(columns), file


def keys_of(value: object, named: set[str]) -> set[str]:
    """Every key of a JSON-ready value, ids as keys left out."""
    if isinstance(value, dict):
        for key, inner in value.items():
            if not (isinstance(inner, dict) and inner.get("id") == key):
                named.add(key)
            keys_of(inner, named)
    elif isinstance(value, list):
        for inner in value:
            keys_of(inner, named)
    return named


def chapter(name: str) -> str:
    text = text_of("DEVELOPERS.md")
    start = text.index(f"### {name}\n")
    return text[start : text.index("\n##", start + 4)]


def test_every_key_of_the_snapshot_is_described() -> None:
    found = small_plant(**EVENING)
    assert found.railway is not None, found.findings
    state, _ = fold(fresh(), FolderTaken(0.0, found.railway))
    state, _ = fold(state, Journalled(1, Said(0.0, None, "begin 19:00")))
    described = set(re.findall(r"`([a-z_]+)(?:\[\])?`", chapter("The snapshot")))
    named = keys_of(view(state), set())
    assert {"stations", "rake", "sure"} <= named
    assert named - described == set()


def test_every_kind_of_irregularity_is_listed_with_its_level_and_keys() -> None:
    rows = re.findall(
        r"^\| `([a-z-]+)` \| (danger|caution|note)[^|]* \| ([^|]*) \|", chapter("Irregularities"), re.MULTILINE
    )
    listed = {kind: (level, tuple(re.findall(r"`([a-z]+)`", keys))) for kind, level, keys in rows}
    assert listed == {name: (kind.level, kind.keys) for name, kind in KINDS.items()}
