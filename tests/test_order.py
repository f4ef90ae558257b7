"""The files that take longest are begun first where several processes share the tests out, be their tests few or many."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

from .conftest import LONGEST

HERE = Path(__file__).parent
MANY = "".join(f"def test_{n}() -> None: pass\n" for n in range(9))


def test_they_are_there() -> None:
    assert [name for name in LONGEST if not (HERE / name).is_file()] == []


def test_they_are_begun_first(tmp_path: Path) -> None:
    shutil.copy(HERE / "conftest.py", tmp_path)
    for name, text in {
        "audit/test_a.py": MANY,
        "audit/test_b.py": MANY,
        **dict.fromkeys(LONGEST[:2], "def test_it() -> None: pass\n"),
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    words = ["-c", str(HERE.parent / "pyproject.toml"), "--rootdir", str(tmp_path), "-n2", "--dist=loadfile", "-v"]
    command = [sys.executable, "-m", "pytest", *words, "-p", "no:cacheprovider", str(tmp_path)]
    said = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False).stdout
    begun = re.findall(r"\[(gw\d)\].*PASSED (\S+)::", said)
    first = dict(reversed(begun))
    assert sorted(first.values()) == sorted(LONGEST[:2]), said
    assert len(begun) == 2 + 2 * 9
