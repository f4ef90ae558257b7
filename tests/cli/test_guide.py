"""A folder that `run` refuses: where nobody can follow a page it ends with 1, elsewhere the page leads into the session."""

from __future__ import annotations

import json
import os
import pty
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import httpx
import pytest

from bridge.cli import main, parser
from bridge.cli.guide import is_followed

from ..folder.making.sketches import small
from ..waiting import wait_for
from .conftest import COMMAND, RAILWAY

GUIDED = ("--guide", "--no-serial")
HERE = ("--listen", "127.0.0.1:0")
LONGEST_S = 20.0


@pytest.mark.parametrize("words", [(), ("--no-guide",)])
def test_without_a_terminal_faults_end_it_with_1(
    folder: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    (folder / "stock.csv").write_text("vehicle,kind\nw1,balloon\n", encoding="utf-8")
    assert main(["run", str(folder), *words]) == 1
    said = capsys.readouterr()
    assert "stock.csv:2:" in said.err
    assert ("With --guide" in said.err) is (not words)  # who has refused it is not asked again
    assert said.out == ""


@pytest.mark.parametrize(
    ("words", "stdin", "stdout", "expected"),
    [
        ((), True, True, True), ((), False, True, False), ((), True, False, False), ((), False, False, False),
        (("--guide",), False, False, True), (("--no-guide",), True, True, False),
    ],
)  # fmt: skip
def test_it_is_followed_on_a_terminal_unless_said(
    monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], stdin: bool, stdout: bool, expected: bool
) -> None:
    monkeypatch.setattr(sys.stdin, "isatty", lambda: stdin, raising=False)
    monkeypatch.setattr(sys.stdout, "isatty", lambda: stdout, raising=False)
    assert is_followed(parser().parse_args(["run", "alder", *words])) is expected


class Guided:
    """The command, running before there is a session."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.greeting: list[str] = []
        self.child = subprocess.Popen(
            [*COMMAND, "run", str(folder), *GUIDED, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        self.url = self.address()

    def address(self) -> str:
        """The page's on this machine, once all of the greeting is printed."""
        assert self.child.stdout is not None
        for line in self.child.stdout:
            self.greeting.append(line)
            if line.startswith("Ctrl-C"):
                return re.findall(r"http://127\.0\.0\.1:\d+/", "".join(self.greeting))[-1]
        raise AssertionError(self.child.stderr.read() if self.child.stderr else "")

    def pins(self) -> list[str]:
        """Every PIN that was printed."""
        return re.findall(r"^PIN for acting from another device: (\d{6})$", "".join(self.greeting), re.MULTILINE)

    def state(self) -> str:
        return str(httpx.get(f"{self.url}api/folder").json()["state"])

    def until(self, state: str) -> None:
        """Wait for a state; while the one is left for the other nobody may answer."""

        def is_so() -> bool:
            try:
                return self.state() == state
            except httpx.TransportError:
                return False

        wait_for(is_so, LONGEST_S)

    def stop(self, number: int = signal.SIGTERM) -> int:
        self.child.send_signal(number)
        self.child.communicate(timeout=LONGEST_S)
        return self.child.returncode


@pytest.fixture
def start() -> Iterator[Callable[..., Guided]]:
    running: list[Guided] = []

    def run(folder: Path, *words: str) -> Guided:
        running.append(Guided(folder, *words))
        return running[-1]

    yield run
    for one in running:
        one.child.kill()
        one.child.communicate()


@pytest.mark.wires
def test_from_nothing_to_a_session_at_the_same_address_with_the_same_pin(
    start: Callable[..., Guided], tmp_path: Path
) -> None:
    folder = tmp_path / "alder"
    guided = start(folder, "--listen", "0.0.0.0:0")
    assert (guided.state(), len(guided.pins())) == ("empty", 1)
    answer = httpx.post(f"{guided.url}api/folder/make", json=small()).json()
    assert answer["accepted"] is True, answer
    assert guided.address() == guided.url
    shown, kept = guided.pins()
    assert (shown, (folder / "page-pin").read_text()) == (kept, f"{kept}\n")
    guided.until("session")
    shown = httpx.get(f"{guided.url}api/snapshot").json()["snapshot"]
    assert (shown["railway"]["name"], shown["session"]["state"]) == ("Alder Vale", "waiting")
    told = httpx.post(f"{guided.url}api/tell", json={"words": "begin 19:00"}).json()
    assert told["accepted"] is True, told
    assert (folder / "alder-vale.store").exists()
    assert guided.stop() == 0


@pytest.mark.wires
def test_faults_put_right_lead_into_the_session(start: Callable[..., Guided], folder: Path) -> None:
    (folder / "stock.csv").write_text("vehicle,kind\nw1,balloon\n", encoding="utf-8")
    guided = start(folder, *HERE)
    assert guided.state() == "faults"
    assert httpx.post(f"{guided.url}api/folder/look").json()["state"] == "faults"
    shutil.copy(RAILWAY / "stock.csv", folder)
    assert httpx.post(f"{guided.url}api/folder/look").json()["state"] == "opening"
    guided.until("session")
    assert guided.stop(signal.SIGINT) == 0


@pytest.mark.wires
def test_ended_before_the_folder_is_in_order_it_has_found_faults(start: Callable[..., Guided], tmp_path: Path) -> None:
    guided = start(tmp_path / "alder", *HERE)
    assert (guided.stop(), guided.pins()) == (1, [])
    assert list(tmp_path.iterdir()) == []


@pytest.mark.wires
def test_on_a_real_terminal_the_page_is_served_without_being_asked_for(tmp_path: Path) -> None:
    master, slave = pty.openpty()
    words = ["run", str(tmp_path / "alder"), "--no-serial", *HERE]
    child = subprocess.Popen([*COMMAND, *words], stdin=slave, stdout=slave, stderr=slave)
    try:
        text = ""
        while not (found := re.search(r"The page: (http://\S+/)", text)):
            text += os.read(master, 4096).decode()
        assert "does not exist" in text
        assert "No session yet" in text
        assert json.loads(httpx.get(f"{found[1]}api/folder").text)["state"] == "empty"
        child.send_signal(signal.SIGINT)
        assert child.wait(LONGEST_S) == 1
    finally:
        child.kill()
        child.wait()
        os.close(master)
        os.close(slave)


def test_a_pin_file_that_holds_none_is_told(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "page-pin").write_text("none")
    assert main(["run", str(folder), "--no-serial", "--listen", "0.0.0.0:0"]) == 1
    assert "page-pin holds no PIN" in capsys.readouterr().err


def test_a_pin_that_is_none_is_wrong_usage(capsys: pytest.CaptureFixture[str]) -> None:
    for command in (["run", "alder"], ["demo"]):
        with pytest.raises(SystemExit) as ended:
            main([*command, "--pin", "12"])
        assert ended.value.code == 2
        assert "4 to 12 digits" in capsys.readouterr().err
