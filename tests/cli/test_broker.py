"""`numbertaker broker`: what it writes is taken by a real Mosquitto, lets in who must, and keeps what waits."""

from __future__ import annotations

import os
import pwd
import shutil
import socket
import subprocess
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties

from bridge.cli import main
from bridge.cli.wires import Wishes, broker
from bridge.folder import load
from bridge.links.broker_settings import hashed, hashes_in, is_hash_of

NOT_AUTHORIZED = 0x87  # MQTT 5.0, table 2-6
ROOT = "numbertaker/oxlip"


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as probe:
        return probe.getsockname()[1]


@pytest.fixture
def serve(need: Callable[[str], str], tmp_path: Path) -> Iterator[Callable[[Path, int], subprocess.Popen]]:
    """`serve(settings, port)`: a broker with that settings file, once it can be reached."""
    program = need("mosquitto")
    running: list[subprocess.Popen] = []
    log = tmp_path / "broker.log"

    def start(settings: Path, port: int) -> subprocess.Popen:
        with log.open("w") as out:
            running.append(subprocess.Popen([program, "-c", str(settings)], stderr=out))
        until = time.monotonic() + 5
        while True:
            try:
                socket.create_connection(("127.0.0.1", port), 1).close()
                return running[-1]
            except OSError:
                assert running[-1].poll() is None, log.read_text()
                assert time.monotonic() < until
                time.sleep(0.01)

    yield start
    for process in running:
        process.kill()
        process.wait()


class Visitor:
    """Somebody on the broker. `answer` is what the broker says to the connection: 0 lets in."""

    def __init__(self, port: int, user: str | None = None, password: str | None = None, name: str = "") -> None:
        self._client = Client(CallbackAPIVersion.VERSION2, name, protocol=MQTTProtocolVersion.MQTTv5)
        self._news = threading.Condition()
        self._answers: list[int] = []
        self.acknowledged: dict[int, int] = {}
        self.heard: list[tuple[str, bytes]] = []
        if user is not None:
            self._client.username_pw_set(user, password)
        self._client.on_connect = lambda _c, _d, _f, reason, _p: self._note(self._answers.append, reason.value)
        self._client.on_subscribe = lambda *_: self._note(self._answers.append, 0)
        self._client.on_publish = lambda _c, _d, mid, reason, _p: self._note(
            lambda value: self.acknowledged.__setitem__(mid, value), reason.value
        )
        self._client.on_message = lambda _c, _d, message: self._note(self.heard.append, (message.topic, message.payload))
        kept = Properties(PacketTypes.CONNECT)
        kept.SessionExpiryInterval = 600 if name else 0
        self._client.connect("127.0.0.1", port, clean_start=not name, properties=kept)
        self._client.loop_start()
        self.answer = self._answered()

    def listen(self, *topics: str) -> Visitor:
        self._client.subscribe([(topic, 1) for topic in topics])
        self._answered()
        return self

    def publish(self, topic: str, payload: str = "x") -> int:
        """The broker's answer."""
        mid = self._client.publish(topic, payload, qos=1).mid
        self._wait(lambda: mid in self.acknowledged)
        return self.acknowledged[mid]

    def wait(self, count: int) -> list[tuple[str, bytes]]:
        self._wait(lambda: len(self.heard) >= count)
        return self.heard

    def leave(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()

    def _answered(self) -> int:
        self._wait(lambda: self._answers)
        return self._answers.pop()

    def _wait(self, is_so: Callable[[], object]) -> None:
        with self._news:
            assert self._news.wait_for(is_so, 10), self.heard[-3:]

    def _note(self, keep: Callable, value: object) -> None:
        with self._news:
            keep(value)
            self._news.notify_all()


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


def passwords(folder: Path) -> tuple[str, str]:
    return tuple((folder / name).read_text().strip() for name in ("broker-password", "broker/board-password"))


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
    for n in range(500):
        assert board.publish(f"{ROOT}/boards/alder/out", str(n)) == 0
    board.leave()
    assert "Saving" not in (tmp_path / "broker.log").read_text()
    time.sleep(0.2)  # the last may be confirmed before it is saved: boards hold that one
    process.kill()
    process.wait()
    serve(settings, port)
    back = visit(port, "numbertaker", own, "away")
    assert [int(payload) for _, payload in back.wait(500)] == list(range(500))


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


def test_run_again_it_keeps_and_says_so(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["broker", str(folder), "--listen", "0.0.0.0:1884"]) == 0
    toml = (folder / "railway.toml").read_bytes()
    before = {path: path.read_bytes() for path in (*(folder / "broker").iterdir(), folder / "broker-password")}
    assert {path.stat().st_mode & 0o777 for path in before} == {0o600}
    assert (folder / "broker").stat().st_mode & 0o777 == 0o700
    first = capsys.readouterr().out
    assert main(["broker", str(folder)]) == 0
    again = capsys.readouterr().out
    assert {path: path.read_bytes() for path in before} == before
    assert again.count(": the password of user ") == again.count(", kept\n") == 2
    assert again.count("kept") == 6
    assert "port 1884" in again
    own, boards = passwords(folder)
    assert boards in first and boards not in again
    assert own not in first + again
    assert (folder / "railway.toml").read_bytes() == toml


def test_new_passwords_on_request_and_users_of_others_kept(folder: Path) -> None:
    assert main(["broker", str(folder)]) == 0
    old = passwords(folder)
    file = folder / "broker" / "numbertaker.passwords"
    other = f"reader:{hashed('of another', b'salt')}"
    file.write_text(f"{file.read_text()}{other}\n")
    assert main(["broker", str(folder), "--new-passwords"]) == 0
    new = passwords(folder)
    assert not set(old) & set(new)
    kept = hashes_in(file.read_text())
    assert f"reader:{kept['reader']}" == other
    assert [is_hash_of(password, kept[user]) for user, password in zip(("numbertaker", "boards"), new, strict=True)] == [
        True,
        True,
    ]
    assert not is_hash_of(old[0], kept["numbertaker"])


def test_a_password_typed_by_a_person_counts(
    folder: Path, serve: Callable[[Path, int], subprocess.Popen], visit: Callable[..., Visitor]
) -> None:
    port = free_port()
    assert main(["broker", str(folder), "--listen", str(port)]) == 0
    (folder / "broker-password").write_text("of my own, mit Umlaut ä\n")
    assert main(["broker", str(folder)]) == 0
    serve(folder / "broker" / "by-hand.conf", port)
    assert visit(port, "numbertaker", "of my own, mit Umlaut ä").answer == 0


def test_what_was_added_by_hand_stays_and_what_was_changed_is_put_aside(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["broker", str(folder)]) == 0
    access, settings = (folder / "broker" / name for name in ("numbertaker.access", "by-hand.conf"))
    access.write_text(added := access.read_text() + "\nuser reader\ntopic read numbertaker/oxlip/says/#\n")
    settings.write_text(changed := settings.read_text().replace("allow_anonymous false", "allow_anonymous true"))
    capsys.readouterr()
    assert main(["broker", str(folder)]) == 0
    assert access.read_text() == added
    assert settings.with_name("before-by-hand.conf").read_text() == changed
    assert "allow_anonymous false" in settings.read_text()
    assert "before-by-hand.conf" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("table", "listen", "is_asked_for"),
    [
        ("", [], True),
        ('[broker]\nhost = "127.0.0.1"\n', [], True),
        ('[broker]\nhost = "localhost"\nuser = "numbertaker"\n', [], False),
        ('[broker]\nhost = "192.0.2.7"\nuser = "numbertaker"\n', [], True),
        ('[broker]\nhost = "192.0.2.7"\nuser = "numbertaker"\n', ["--listen", "0.0.0.0"], False),
        ('[broker]\nhost = "127.0.0.1"\nport = 1884\nuser = "numbertaker"\n', [], False),
        ('[broker]\nhost = "127.0.0.1"\ntls = true\nuser = "numbertaker"\n', [], True),
        ('[broker]\nhost = "127.0.0.1"\nuser = "signalman"\n', [], False),
    ],
)
def test_the_broker_table_is_asked_for_where_it_is_not_said(
    folder: Path, capsys: pytest.CaptureFixture[str], table: str, listen: list[str], is_asked_for: bool
) -> None:
    with (folder / "railway.toml").open("a") as file:
        file.write(f"\n{table}")
    assert main(["broker", str(folder), *listen]) == 0
    out = capsys.readouterr().out
    assert ("[broker]\n  host" in out) == is_asked_for
    if is_asked_for:  # what is printed is taken, and leads to the broker and its password
        text = (folder / "railway.toml").read_text().removesuffix(table)
        printed = "\n".join(line.strip() for line in out.split("  [broker]\n")[1].split("\n\n")[0].splitlines())
        (folder / "railway.toml").write_text(f"{text}[broker]\n{printed}\n")
        meant = broker(load(folder), Wishes(folder))
        assert (meant.host, meant.port, meant.user) == ("127.0.0.1", 1883, "numbertaker")
        assert meant.password == passwords(folder)[0]


@pytest.mark.parametrize("user", ["boards", "with:colon"])
def test_a_user_that_cannot_be_is_refused(folder: Path, capsys: pytest.CaptureFixture[str], user: str) -> None:
    with (folder / "railway.toml").open("a") as file:
        file.write(f'\n[broker]\nhost = "127.0.0.1"\nuser = "{user}"\n')
    assert main(["broker", str(folder)]) == 1
    assert user in capsys.readouterr().err
    assert not (folder / "broker").exists()


def test_a_folder_that_cannot_be_written_is_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "taken").write_text("a file")
    assert main(["broker", str(folder), "--out", str(folder / "taken")]) == 1
    assert "--out" in capsys.readouterr().err


def test_passwords_are_hashed_as_mosquitto_s_own_program_does(tmp_path: Path, need: Callable[[str], str]) -> None:
    file = tmp_path / "passwords"
    subprocess.run([need("mosquitto_passwd"), "-c", "-b", str(file), "anna", "right"], check=True)
    made = hashes_in(file.read_text())["anna"]
    assert is_hash_of("right", made)
    assert not is_hash_of("wrong", made)
    for broken in ("", "$6$x$y", "$7$0$AA==$AA==", "$7$101$not base64$AA==", "$7$101$AA==$AA=="):
        assert not is_hash_of("right", broken)
