"""`numbertaker broker`: what it writes is taken by a real Mosquitto, lets in who must, and keeps what waits."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from bridge.cli import main

from ..waiting import free_port, wait_for, wait_reachable
from .visitors import NOT_AUTHORIZED, ROOT, Visitor, passwords


@pytest.fixture
def serve(need: Callable[[str], str], tmp_path: Path) -> Iterator[Callable[[Path, int], subprocess.Popen]]:
    """`serve(settings, port)`: a broker with that settings file, once it can be reached."""
    program = need("mosquitto")
    running: list[subprocess.Popen] = []
    log = tmp_path / "broker.log"

    def start(settings: Path, port: int) -> subprocess.Popen:
        with log.open("w") as out:
            running.append(subprocess.Popen([program, "-c", str(settings)], stderr=out))
        wait_reachable(port, log)
        return running[-1]

    yield start
    for process in running:
        process.kill()
        process.wait()


@pytest.fixture
def visit() -> Iterator[Callable[..., Visitor]]:
    """`visit(port, user, password, name)`: somebody on the broker; a name has its session kept."""
    visitors: list[Visitor] = []

    def come(*words: object) -> Visitor:
        visitors.append(Visitor(*words))
        return visitors[-1]

    yield come
    for visitor in visitors:
        visitor.leave()


@pytest.mark.wires
def test_a_real_broker_lets_in_who_must_and_no_further_than_needed(
    folder: Path,
    serve: Callable[[Path, int], subprocess.Popen],
    visit: Callable[..., Visitor],
    capsys: pytest.CaptureFixture[str],
) -> None:
    port = free_port()
    assert main(["broker", str(folder), "--listen", f"127.0.0.1:{port}"]) == 0
    own, boards = passwords(folder)
    assert boards in capsys.readouterr().out
    serve(folder / "broker" / "by-hand.conf", port)
    for user, password in ((None, None), ("numbertaker", "wrong"), ("boards", own), ("other", own)):
        assert visit(port, user, password).answer == NOT_AUTHORIZED, user
    host = visit(port, "numbertaker", own).listen(f"{ROOT}/#", "other/#")
    board = visit(port, "boards", boards).listen(f"{ROOT}/#", "other/#")
    assert (host.answer, board.answer) == (0, 0)
    asked = [
        (board, f"{ROOT}/boards/alder/out", 0),
        (board, f"{ROOT}/boards/alder/link", 0),
        (board, f"{ROOT}/boards/alder/in", NOT_AUTHORIZED),
        (board, f"{ROOT}/operator", NOT_AUTHORIZED),
        (board, "other/topic", NOT_AUTHORIZED),
        (host, f"{ROOT}/boards/alder/in", 0),
        (host, f"{ROOT}/says/arrived", 0),
        (host, f"{ROOT}/probe/echo", 0),
        (host, "other/topic", NOT_AUTHORIZED),
    ]
    assert [visitor.publish(topic) for visitor, topic, _ in asked] == [answer for _, _, answer in asked]
    taken = [topic for _, topic, answer in asked if answer == 0]
    assert [topic for topic, _ in host.wait(len(taken))] == taken
    assert [topic for topic, _ in board.wait(1)] == [f"{ROOT}/boards/alder/in"]


@pytest.mark.wires
def test_what_waits_survives_a_kill(
    folder: Path, tmp_path: Path, serve: Callable[[Path, int], subprocess.Popen], visit: Callable[..., Visitor]
) -> None:
    port = free_port()
    assert main(["broker", str(folder), "--listen", f"127.0.0.1:{port}"]) == 0
    own, boards = passwords(folder)
    settings = folder / "broker" / "by-hand.conf"
    process = serve(settings, port)
    visit(port, "numbertaker", own, "away").listen(f"{ROOT}/boards/+/out").leave()
    board = visit(port, "boards", boards)
    for n in range(200):
        assert board.publish(f"{ROOT}/boards/alder/out", f"report {n}") == 0
    board.leave()
    assert "Saving" not in (tmp_path / "broker.log").read_text()
    kept = folder / "broker" / "mosquitto.db"
    wait_for(lambda: b"report 189" in kept.read_bytes())  # saved at each tenth change; what is not yet, boards hold
    process.kill()
    process.wait()
    serve(settings, port)
    back = visit(port, "numbertaker", own, "away")
    survived = [payload.decode() for _, payload in back.wait(190)]
    assert survived == [f"report {n}" for n in range(len(survived))]


@pytest.mark.wires
def test_as_the_system_s_settings_under_its_own_user(
    folder: Path, serve: Callable[[Path, int], subprocess.Popen], visit: Callable[..., Visitor]
) -> None:
    """The file is put where Debian's package looks, moved to another folder; started by root it runs as mosquitto."""
    try:
        who = pwd.getpwnam("mosquitto" if os.getuid() == 0 else pwd.getpwuid(os.getuid()).pw_name)
    except KeyError:
        pytest.skip("needs the user mosquitto, whom the package mosquitto makes")
    port = free_port()
    assert main(["broker", str(folder), "--listen", f"127.0.0.1:{port}"]) == 0
    own, _ = passwords(folder)
    with tempfile.TemporaryDirectory() as name:  # pytest's own folders are closed to other users
        etc, kept = Path(name) / "conf.d", Path(name) / "kept"
        for made in (etc, kept):
            made.mkdir()
        for file in (folder / "broker").glob("numbertaker.*"):
            copied = Path(shutil.copy(file, etc))
            copied.write_text(copied.read_text().replace("/etc/mosquitto/conf.d", str(etc)))
        # what Debian 12's /etc/mosquitto/mosquitto.conf says, but for its log
        main_file = Path(name) / "mosquitto.conf"
        main_file.write_text(
            f"pid_file {kept}/mosquitto.pid\npersistence true\npersistence_location {kept}/\ninclude_dir {etc}\n"
        )
        for path in (Path(name), etc, kept, main_file, *etc.iterdir()):
            path.chmod(0o700 if path.is_dir() else 0o600)
            os.chown(path, who.pw_uid, who.pw_gid)
        process = serve(main_file, port)
        assert f"\nUid:\t{who.pw_uid}\t" in Path(f"/proc/{process.pid}/status").read_text()
        assert visit(port, "numbertaker", own).answer == 0
        assert visit(port).answer == NOT_AUTHORIZED
        process.terminate()
        process.wait(5)
        assert (kept / "mosquitto.db").is_file()


def test_a_password_typed_by_a_person_counts(
    folder: Path, serve: Callable[[Path, int], subprocess.Popen], visit: Callable[..., Visitor]
) -> None:
    port = free_port()
    assert main(["broker", str(folder), "--listen", str(port)]) == 0
    (folder / "broker-password").write_text("of my own, mit Umlaut ä\n")
    assert main(["broker", str(folder)]) == 0
    serve(folder / "broker" / "by-hand.conf", port)
    assert visit(port, "numbertaker", "of my own, mit Umlaut ä").answer == 0
