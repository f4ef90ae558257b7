"""What an examination is tested with: a real Mosquitto with settings of one's own choice."""

from __future__ import annotations

import os
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge.service.examining import Finding

from ...waiting import free_port, wait_reachable


class Mosquitto:
    """A broker that can be killed and started again."""

    def __init__(self, program: str, home: Path, settings: tuple[str, ...]) -> None:
        self.port = free_port()
        self.home = home
        root = ["user root"] if os.getuid() == 0 else []
        conf = home / "broker.conf"
        conf.write_text("\n".join([*root, f"listener {self.port} 127.0.0.1", *settings]) + "\n")
        self._command = [program, "-c", str(conf)]
        self.start()

    def start(self) -> None:
        with (self.home / "broker.log").open("ab") as log:
            self.process = subprocess.Popen(self._command, stdout=log, stderr=log)
        (self.home / "pid").write_text(str(self.process.pid))
        wait_reachable(self.port, self.home / "broker.log")

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()


@pytest.fixture
def mosquitto(need: Callable[[str], str], tmp_path: Path) -> Iterator[Callable[..., Mosquitto]]:
    """`mosquitto("setting", ...)`: a running broker with these settings."""
    brokers: list[Mosquitto] = []

    def make(*settings: str) -> Mosquitto:
        home = tmp_path / f"broker{len(brokers)}"
        home.mkdir()
        brokers.append(Mosquitto(need("mosquitto"), home, settings))
        return brokers[-1]

    yield make
    for broker in brokers:
        broker.kill()


@pytest.fixture
def level() -> Callable[[list[Finding], str], str]:
    """`level(findings, "text")`: of the one finding whose text or remedy has that."""

    def of(findings: list[Finding], text: str) -> str:
        (found,) = [finding for finding in findings if text in finding.text or text in finding.remedy]
        return found.level

    return of
