"""The frame holds: lint, format, types and import layers, and what the texts say of the tree is true."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

from bridge import cli
from bridge.folder import read
from bridge.folder.setting_tables import COLUMNS

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
TEXTS = ("README.md", "DEVELOPERS.md", "firmware_notes/README.md")
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "bridge", "firmware_notes", "web", "tests", "demo"}


def judged(*command: str) -> None:
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


@pytest.mark.parametrize(
    "command",
    [
        pytest.param((sys.executable, "-m", "ruff", "check", "."), id="lint"),
        pytest.param((sys.executable, "-m", "ruff", "format", "--check", "."), id="format"),
        pytest.param((sys.executable, "-m", "mypy"), id="types"),
        pytest.param((str(BIN / "lint-imports"),), id="layers"),
    ],
)
def test_the_judges_are_content(command: tuple[str, ...]) -> None:
    judged(*command)


def tracked() -> list[str]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("the folder is no git checkout: what belongs to the project cannot be told from what lies in it")
    return listed.stdout.split("\n")[:-1]


def test_nothing_new_stands_at_the_top() -> None:
    assert {name.split("/")[0] for name in tracked() if not name.startswith(".")} == TOP


def test_every_python_file_says_why_it_exists() -> None:
    files = [name for name in tracked() if name.endswith(".py") and not name.endswith("/__init__.py")]
    files = [name for name in files if not name.startswith("tests/") and (ROOT / name).exists()]
    assert files
    assert [name for name in files if not ast.get_docstring(ast.parse((ROOT / name).read_text(encoding="utf-8")))] == []


@pytest.mark.parametrize("script", ["demo/environment.py", "demo/run.py", "tests/run.py"])
def test_an_old_python_can_read_the_scripts_that_refuse_it(script: str) -> None:
    ast.parse((ROOT / script).read_text(encoding="utf-8"), feature_version=(3, 6))
    assert "from __future__ import annotations" not in (ROOT / script).read_text(encoding="utf-8")


def command_names() -> list[str]:
    return [name for action in cli.parser()._subparsers._group_actions for name in action.choices]  # type: ignore[union-attr]


def test_every_command_stands_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert [name for name in command_names() if f"`numbertaker {name}" not in readme] == []


def test_every_command_named_in_the_texts_exists() -> None:
    known = set(command_names())
    for text in TEXTS:
        named = re.findall(r"numbertaker ([a-z]+)\b", (ROOT / text).read_text(encoding="utf-8"))
        assert [name for name in named if name not in known] == [], text


@pytest.mark.parametrize("text", TEXTS)
def test_every_path_named_in_the_texts_exists(text: str) -> None:
    found = re.findall(
        r"`((?:bridge|web|tests|demo|firmware_notes|\.ci)/[^`\s]*)`", (ROOT / text).read_text(encoding="utf-8")
    )
    assert [name for name in found if not list(ROOT.glob(name.rstrip("/")))] == []


@pytest.mark.parametrize("text", TEXTS)
def test_every_link_in_the_texts_leads_somewhere(text: str) -> None:
    page = ROOT / text
    for target in re.findall(r"\]\(([^)]+)\)", page.read_text(encoding="utf-8")):
        name, _, heading = target.partition("#")
        assert not name.startswith("http"), f"{target}: the texts need no network"
        linked = (page.parent / name).resolve() if name else page
        assert linked.exists(), target
        if heading:
            headings = re.findall(r"^#+ (.+)$", linked.read_text(encoding="utf-8"), re.MULTILINE)
            assert heading in [re.sub(r"[^\w -]", "", h.lower()).replace(" ", "-") for h in headings], target


def test_the_small_plant_of_the_readme_is_a_railway() -> None:
    (plant,) = re.findall(r"```toml\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    found = read({"railway.toml": plant.encode()})
    assert [finding.message for finding in found.findings if finding.file == "railway.toml"] == []
    assert found.railway is not None
    assert (len(found.railway.plant.detectors), found.railway.plant.scale) == (3, 76.2)


def test_every_column_of_the_folder_stands_in_the_readme() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for file, columns in COLUMNS.items():
        listed = re.search(rf"\| `{file}\.csv` \|[^`]*`([^`]+)`", readme)
        assert listed is not None, file
        assert listed[1].split(", ") == list(columns), file
