"""The demonstration as a visitor starts it: from any folder, from a checkout or installed; it ends when it is told to."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import threading
import time
import venv
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from urllib.request import urlopen

import pytest

import bridge

from .commands import COMMAND

pytestmark = pytest.mark.wires

ROOT = Path(bridge.__file__).parents[1]
DEMO = ("demo", "--no-browser", "--speed", "20", "--listen", "127.0.0.1:0")
LONGEST_S = 60.0
ENDS_WITHIN_S = 6.0


class Started:
    """A command that runs in `home`, and what it has printed."""

    def __init__(self, command: Sequence[str], home: Path, **more: str) -> None:
        environment = {**os.environ, "TMPDIR": str(home), "PYTHONUNBUFFERED": "1", **more}
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=home, env=environment
        )
        self.text = ""
        self._news = threading.Condition()
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            with self._news:
                self.text += line
                self._news.notify_all()

    def until(self, pattern: str) -> re.Match[str]:
        """What it prints, once that matches."""
        found: list[re.Match[str]] = []
        with self._news:
            assert self._news.wait_for(lambda: found.extend(re.finditer(pattern, self.text)) or found, LONGEST_S), self.text
        return found[0]

    def interrupt(self) -> float:
        """Ctrl-C; how long it took to end (seconds)."""
        began = time.monotonic()
        self.process.send_signal(signal.SIGINT)
        assert self.process.wait(LONGEST_S) == 0, self.text
        took_s = time.monotonic() - began
        self._reader.join(LONGEST_S)
        return took_s


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., Started]]:
    running: list[Started] = []

    def begin(command: Sequence[str], **more: str) -> Started:
        running.append(Started(command, tmp_path, **more))
        return running[-1]

    yield begin
    for one in running:
        one.process.kill()
        one.process.wait(LONGEST_S)


def shows_its_page_and_ends(demo: Started) -> None:
    page = demo.until(r"The page: (http://\S+)")[1]
    with urlopen(page, timeout=LONGEST_S) as answer:
        assert answer.status == 200
        assert b"<title>" in answer.read()
    with urlopen(f"{page}api/stream", timeout=LONGEST_S) as stream:  # a page that is open holds nothing up
        assert stream.readline().startswith(b"event:")
        demo.until("The session began")
        assert demo.interrupt() < ENDS_WITHIN_S
    assert "Traceback" not in demo.text
    assert "The journal stays in" in demo.text


def test_from_another_folder(start: Callable[..., Started]) -> None:
    shows_its_page_and_ends(start([*COMMAND, *DEMO], PYTHONPATH=str(ROOT)))


@pytest.mark.slow
@pytest.mark.timeout(300)
def test_installed_in_an_environment_of_its_own(start: Callable[..., Started], tmp_path: Path) -> None:
    """`pip install .` as README.md says, with what comes from the package index; nothing of the checkout is used."""
    home = tmp_path / "environment"
    venv.create(home, with_pip=True)
    alone = {**os.environ, "PYTHONPATH": ""}
    python = str(home / "bin" / "python")
    command = [python, "-m", "pip", "install", "--quiet", "--disable-pip-version-check", str(ROOT)]
    installed = subprocess.run(command, check=False, capture_output=True, text=True, cwd=tmp_path, env=alone)
    assert installed.returncode == 0, installed.stderr
    where = [python, "-c", "import bridge; print(bridge.__file__)"]
    assert str(home) in subprocess.check_output(where, text=True, cwd=tmp_path, env=alone)
    shows_its_page_and_ends(start([str(home / "bin" / "numbertaker"), *DEMO], PYTHONPATH=""))
