"""The frame holds: lint, format, types and import layers, and where things stand."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
TOP = {"README.md", "DEVELOPERS.md", "pyproject.toml", "LICENSE", "bridge", "firmware_notes", "web", "tests", "demo"}


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
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr


def tracked() -> list[str]:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode != 0:
        pytest.skip("the folder is no git checkout: what belongs to the project cannot be told from what lies in it")
    return [name for name in listed.stdout.splitlines() if (ROOT / name).exists()]


def test_nothing_new_stands_at_the_top() -> None:
    assert {name.split("/")[0] for name in tracked() if not name.startswith(".")} == TOP


def test_every_module_says_why_it_exists() -> None:
    files = [name for name in tracked() if name.endswith(".py") and not name.startswith("tests/")]
    assert files
    assert [name for name in files if not ast.get_docstring(ast.parse((ROOT / name).read_text(encoding="utf-8")))] == []


@pytest.mark.parametrize("script", ["demo/environment.py", "demo/run.py", "tests/run.py"])
def test_an_old_python_can_read_the_scripts_that_refuse_it(script: str) -> None:
    text = (ROOT / script).read_text(encoding="utf-8")
    ast.parse(text, feature_version=(3, 6))
    assert "from __future__ import annotations" not in text
