"""A railway of three stations whose boards are on a broker, `numbertaker run` on it, and two settings files for the broker.

Rule: "ours" is what `numbertaker broker` writes, not a line more; "stock" is what the package of Debian 12 has, with the two
lines without which nobody but this machine would be let in.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from contextlib import redirect_stdout
from itertools import pairwise
from pathlib import Path
from urllib.request import Request, urlopen

from bridge.cli import main as numbertaker

from .mortal_broker import HOST

RAILWAY = "trial"
INPUTS = tuple(range(1, 9))
BOARDS = dict.fromkeys(("alder", "birch", "cedar"), INPUTS)
"""Each board's inputs."""

COMMAND = [sys.executable, "-c", "import sys; from bridge.cli import main; sys.exit(main())"]
PLANT = """[railway]
id = "trial"
name = "Trial"
scale = 76.2
clock = 4

[broker]
host = "{host}"
port = {port}
user = "numbertaker"
"""
STATION = """
[[station]]
id = "{id}"
name = "{id}"
"""
BOARD = """
[[board]]
id = "{id}"
link = "mqtt"
"""
ROAD = """
[[station.road]]
id = "road{n}"
kind = "loop"
length = 1400
open = ["up", "down"]
"""
DETECTOR = """
[[detector]]
id = "{id}-road{n}"
kind = "track"
covers = "{id}.road{n}"
board = "{id}"
input = {n}
"""
SECTION = """
[[section]]
id = "{up}-{down}"
from = "{up}.down"
to = "{down}.up"
length = 5000
rule = "one-train"
minutes = {{ goods = 6 }}
"""
STOCK = """pid_file {home}/mosquitto.pid
persistence true
persistence_location {home}/
listener {port} {host}
allow_anonymous true
"""


class Bridge:
    """`numbertaker run`, started and killed."""

    def __init__(self, folder: Path, store: Path) -> None:
        self._command = [*COMMAND, "run", str(folder), "--store", str(store), "--listen", f"{HOST}:0", "--no-serial"]
        self._log = store.with_suffix(".log")
        self._process: subprocess.Popen[str] | None = None
        self.url = ""

    def start(self) -> None:
        with self._log.open("a") as log:
            self._process = subprocess.Popen(self._command, stdout=subprocess.PIPE, stderr=log, text=True)
        assert self._process.stdout is not None
        for line in self._process.stdout:
            if found := re.search(r"The page: (\S+)", line):
                self.url = found[1]
                return
        raise OSError(f"the bridge did not start: {self._log.read_text()}")

    def tell(self, words: str) -> None:
        body = json.dumps({"words": words, "who": "ann"}).encode()
        with urlopen(Request(f"{self.url}api/tell", body, {"content-type": "application/json"}), timeout=10) as answer:
            assert json.load(answer)["accepted"]

    def end(self, is_kind: bool = False) -> None:
        if self._process is not None:
            (self._process.terminate if is_kind else self._process.kill)()
            self._process.wait(20)
            assert self._process.stdout is not None
            self._process.stdout.close()
            self._process = None


def make_folder(folder: Path, port: int) -> None:
    """A railway of three stations, a board each."""
    folder.mkdir()
    names = list(BOARDS)
    parts = [PLANT.format(host=HOST, port=port)]
    for name in names:
        parts += [STATION.format(id=name), *(ROAD.format(n=n) for n in INPUTS), BOARD.format(id=name)]
        parts += [DETECTOR.format(id=name, n=n) for n in INPUTS]
    parts += [SECTION.format(up=up, down=down) for up, down in pairwise(names)]
    (folder / "railway.toml").write_text("".join(parts), encoding="utf-8")


def ours(folder: Path, port: int) -> tuple[tuple[str, str], Path]:
    """The boards' login and the settings file, as the command writes them."""
    with Path(os.devnull).open("w") as nowhere, redirect_stdout(nowhere):
        if numbertaker(["broker", str(folder), "--listen", f"{HOST}:{port}"]):
            raise OSError("numbertaker broker failed")
    password = (folder / "broker" / "board-password").read_text(encoding="utf-8").strip()
    return ("boards", password), folder / "broker" / "by-hand.conf"


def stock(home: Path, port: int) -> Path:
    """What the package of Debian 12 has, with a listener that lets everybody in."""
    kept = home / "stock"
    kept.mkdir()
    path = kept / "mosquitto.conf"
    root = "user root\n" if os.getuid() == 0 else ""
    path.write_text(STOCK.format(home=kept, port=port, host=HOST) + root, encoding="utf-8")
    return path
