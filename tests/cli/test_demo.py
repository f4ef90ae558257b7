"""The demonstration from the command line: it starts, shows its page, and ends cleanly."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.cli.demo import demonstration

LONGEST_S = 60.0
START = "import sys; from bridge.cli import main; sys.exit(main())"


class Started:
    """A `numbertaker` on its own, and what it has printed."""

    def __init__(self, arguments: list[str], home: Path, before: str = "") -> None:
        environment = {**os.environ, "TMPDIR": str(home), "PYTHONUNBUFFERED": "1"}
        self.process = subprocess.Popen(
            [sys.executable, "-c", before + START, *arguments],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env=environment,
            start_new_session=True,
        )
        self._said: list[str] = []
        self._news = threading.Condition()
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self.process.stdout is not None
        for line in self.process.stdout:
            with self._news:
                self._said.append(line)
                self._news.notify_all()

    def until(self, pattern: str) -> re.Match[str]:
        """What was printed up to something that matches."""
        deadline = time.monotonic() + LONGEST_S
        with self._news:
            while True:
                match = re.search(pattern, "".join(self._said))
                if match:
                    return match
                assert self._news.wait(deadline - time.monotonic()), "".join(self._said)

    def end(self) -> str:
        """Stop it as Ctrl-C does; all it has printed."""
        self.process.send_signal(signal.SIGINT)
        assert self.process.wait(LONGEST_S) == 0, "".join(self._said)
        return "".join(self._said)


@pytest.fixture
def started(tmp_path: Path) -> Iterator[list[Started]]:
    made: list[Started] = []
    yield made
    for one in made:
        if one.process.poll() is None:
            os.killpg(one.process.pid, signal.SIGKILL)
            one.process.wait()


def begin(started: list[Started], home: Path, *arguments: str) -> Started:
    one = Started(list(arguments), home)
    started.append(one)
    return one


@pytest.mark.wires
def test_the_demonstration_shows_its_page_and_a_train_that_leaves(started: list[Started], tmp_path: Path) -> None:
    demo = begin(started, tmp_path, "demo", "--speed", "20", "--no-browser", "--listen", "127.0.0.1:0")
    page = demo.until(r"The page: (http://\S+)")[1]
    assert "board lanternby on pseudo-terminal /dev/" in demo.until(r"(?s).*Ctrl-C stops")[0]
    with urllib.request.urlopen(page, timeout=LONGEST_S) as answer:
        assert answer.status == 200
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(page + "api/truth", timeout=LONGEST_S)
    demo.until(r"19:0\d:\d\d  p1 left Saltgander")
    said = demo.end()
    store = re.search(r"The journal stays in (\S+\.store)", said)
    assert store is not None
    assert Path(store[1]).is_file()
    assert "Traceback" not in said


@pytest.mark.wires
def test_without_a_broker_all_boards_are_on_pseudo_terminals_and_the_truth_is_told_where_asked_for(
    started: list[Started], tmp_path: Path
) -> None:
    no_programs = "import shutil; shutil.which = lambda *_, **__: None; "
    demo = Started(["demo", "--speed", "20", "--no-browser", "--listen", "127.0.0.1:0", "--truth"], tmp_path, no_programs)
    started.append(demo)
    said = demo.until(r"(?s).*Ctrl-C stops")[0]
    assert "board copperwhin on pseudo-terminal" in said
    assert "mosquitto is not installed" in said
    demo.until(r"The session began")
    page = demo.until(r"The page: (http://\S+)")[1]
    with urllib.request.urlopen(page + "api/truth", timeout=LONGEST_S) as answer:
        told = json.load(answer)
    assert told["strips"]["saltgander.platform"]["line"] != []
    assert isinstance(told["wrong"], list)
    assert "Traceback" not in demo.end()


@pytest.mark.wires
def test_simulated_boards_begin_once_they_are_asked(started: list[Started], tmp_path: Path) -> None:
    boards = begin(started, tmp_path, "simulate", str(demonstration()), "--pty", "--speed", "20")
    ports = boards.until(r"Listen to them so: numbertaker run \S+((?: --port \S+)+)\n")[1].split()
    railway = tmp_path / "demo.store"
    host = begin(started, tmp_path, "run", str(demonstration()), "--store", str(railway), "--listen", "127.0.0.1:0", *ports)
    boards.until(r"tell it now: begin 19:00")
    host.end()
    assert "Stopped." in boards.end()


def test_mistakes_are_listed_and_unknown_ones_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["demo", "--faults", "list"]) == 0
    assert "wrong-road" in capsys.readouterr().out
    assert main(["demo", "--faults", "wrong-raod"]) == 2
    assert "The nearest is wrong-road." in capsys.readouterr().err


@pytest.mark.parametrize("given", ["0", "31", "fast"])
def test_a_speed_is_within_bounds(given: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main(["demo", "--speed", given])
    assert ended.value.code == 2
    assert "speed" in capsys.readouterr().err
