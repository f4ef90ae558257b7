"""`numbertaker broker`: what it writes, what it keeps when run again, and what it asks for."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from bridge.cli import main
from bridge.cli.wires import Wishes, broker
from bridge.folder import load
from bridge.links.broker_settings import hashed, hashes_in, is_hash_of

from .visitors import passwords


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
