"""`demo/run.py` and `tests/run.py` make their environment once, and say what is missing."""

from __future__ import annotations

import importlib.util
import json
import sys
import types
from pathlib import Path

import pytest

SCRIPT = Path(__file__).resolve().parent.parent / "demo" / "environment.py"


class Installer:
    """Stands where `subprocess.call` stands: notes each command and leaves the Python that a real one would leave."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.made = 0
        self.installed: list[str] = []
        self.status = 0

    def __call__(self, command: list[str]) -> int:
        if "venv" in command:
            self.made += 1
            (self.folder / "bin").mkdir(parents=True, exist_ok=True)
            (self.folder / "bin" / "python").touch()
        else:
            self.installed.append(command[-1])
        return self.status


@pytest.fixture
def environment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> types.ModuleType:
    spec = importlib.util.spec_from_file_location("environment_under_test", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "FOLDER", tmp_path / ".environment")
    monkeypatch.setattr(module, "NOTE", tmp_path / ".environment" / "made-for.json")
    return module


@pytest.fixture
def installer(environment: types.ModuleType, monkeypatch: pytest.MonkeyPatch) -> Installer:
    made = Installer(environment.FOLDER)
    monkeypatch.setattr(environment, "subprocess", types.SimpleNamespace(call=made))
    return made


def test_it_is_made_once_and_reused(environment: types.ModuleType, installer: Installer) -> None:
    assert environment.ready() == environment.ready() == str(environment.FOLDER / "bin" / "python")
    assert (installer.made, installer.installed) == (1, [str(environment.ROOT)])


def test_tests_add_their_libraries_to_that_of_the_demo(environment: types.ModuleType, installer: Installer) -> None:
    for extra in ("", "test", "", "test"):
        environment.ready(extra)
    assert (installer.made, installer.installed) == (1, [str(environment.ROOT), f"{environment.ROOT}[test]"])


def test_a_changed_project_is_installed_again(environment: types.ModuleType, installer: Installer) -> None:
    environment.ready("test")
    (environment.ROOT / "pyproject.toml").write_text("[project]\nname = 'x'\n")
    environment.ready()
    environment.ready("test")
    assert (installer.made, len(installer.installed)) == (1, 3)


def test_another_python_or_place_makes_it_anew(environment: types.ModuleType, installer: Installer) -> None:
    environment.ready()
    note = json.loads(environment.NOTE.read_text())
    environment.NOTE.write_text(json.dumps({**note, "place": "/elsewhere"}))
    environment.ready()
    assert installer.made == 2


def test_a_broken_note_makes_it_anew(environment: types.ModuleType, installer: Installer) -> None:
    environment.ready()
    environment.NOTE.write_text("{")
    environment.ready()
    assert installer.made == 2


def test_a_failed_install_is_told_and_tried_again(environment: types.ModuleType, installer: Installer) -> None:
    environment.ready()
    (environment.ROOT / "pyproject.toml").write_text("[project]\nname = 'x'\n")
    installer.status = 1
    with pytest.raises(SystemExit, match="pip says why above"):
        environment.ready()
    installer.status = 0
    environment.ready()
    assert len(installer.installed) == 3


def test_an_old_python_is_told_plainly(environment: types.ModuleType, monkeypatch: pytest.MonkeyPatch) -> None:
    old = types.SimpleNamespace(version_info=(3, 9, 2), argv=["demo/run.py"], exit=sys.exit)
    monkeypatch.setattr(environment, "sys", old)
    with pytest.raises(SystemExit, match=r"needs Python 3\.11 or newer; this is Python 3\.9"):
        environment.complain_of_python()


@pytest.mark.parametrize("module", ["venv", "ensurepip"])
def test_the_package_that_brings_venv_is_named(
    environment: types.ModuleType, monkeypatch: pytest.MonkeyPatch, module: str
) -> None:
    monkeypatch.setitem(sys.modules, module, None)
    monkeypatch.setattr(environment, "shutil", types.SimpleNamespace(which=lambda name: f"/usr/bin/{name}"))
    with pytest.raises(SystemExit, match="sudo apt-get install python3-venv"):
        environment.complain_of_python()
    monkeypatch.setattr(environment, "shutil", types.SimpleNamespace(which=lambda name: None))
    with pytest.raises(SystemExit, match="your system's package for Python's venv and pip"):
        environment.complain_of_python()
