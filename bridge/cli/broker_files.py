"""The files that `numbertaker broker` writes.

Rule: readable by their owner alone, written whole or not at all, and never in place of something that is not put aside.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from bridge.cli.addresses import Address
from bridge.cli.wires import PASSWORD_FILE
from bridge.links.broker_settings import (
    BOARDS_USER,
    SALT_BYTES,
    Place,
    access_list,
    hashed,
    hashes_in,
    is_hash_of,
    listener_in,
    needed,
    password_file,
    settings,
)

SYSTEM = Path("/etc/mosquitto/conf.d")
"""Where Debian and what comes from it look for further settings of Mosquitto."""

BY_HAND = "by-hand.conf"
FOR_SYSTEM = "numbertaker.conf"
PASSWORDS = "numbertaker.passwords"
ACCESS = "numbertaker.access"
BOARD_PASSWORD = "board-password"

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
LENGTH = 20  # 99 bits; no letter that is mistaken for another when it is typed into a board's settings


@dataclass(frozen=True, slots=True)
class Written:
    """What was done: each file and what became of it, where the broker listens, the boards' password where it is new."""

    out: Path
    listens: Address
    files: tuple[tuple[Path, str], ...]
    board_password: str | None


def write_all(
    folder: Path, out: Path, *, railway: str, user: str, wish: Address | None, usual: Address, is_new: bool
) -> Written:
    """Write or keep every file. The broker listens where it is wished, else where it did, else as usual.

    Raises OSError where something cannot be read or written.
    """
    out.mkdir(mode=0o700, parents=True, exist_ok=True)
    host, port = listens = wish or listener_in(_text(out / BY_HAND)) or usual
    own, own_what = _password(folder / PASSWORD_FILE, is_new)
    boards, boards_what = _password(out / BOARD_PASSWORD, is_new)
    by_hand = Place(host, port, out / PASSWORDS, out / ACCESS, out, _me())
    system = Place(host, port, SYSTEM / PASSWORDS, SYSTEM / ACCESS)
    files = (
        (folder / PASSWORD_FILE, f"the password of user {user}, {own_what}"),
        (out / BOARD_PASSWORD, f"the password of user {BOARDS_USER}, {boards_what}"),
        (out / PASSWORDS, _put_passwords(out / PASSWORDS, {user: own, BOARDS_USER: boards})),
        (out / ACCESS, _put(out / ACCESS, access_list(railway, user))),
        (out / BY_HAND, _put(out / BY_HAND, settings(by_hand))),
        (out / FOR_SYSTEM, _put(out / FOR_SYSTEM, settings(system))),
    )
    return Written(out, listens, files, None if boards_what == "kept" else boards)


def _password(path: Path, is_new: bool) -> tuple[str, str]:
    """The password in a file, and whether it was kept or is new."""
    kept = _text(path).strip()
    if kept and not is_new:
        path.chmod(0o600)
        return kept, "kept"
    made = "".join(secrets.choice(LETTERS) for _ in range(LENGTH))
    _write(path, made + "\n")
    return made, "new"


def _put_passwords(path: Path, passwords: Mapping[str, str]) -> str:
    old = _text(path)
    there = hashes_in(old)
    if all(is_hash_of(password, there.get(user, "")) for user, password in passwords.items()):
        return "kept"
    hashes = {user: hashed(password, secrets.token_bytes(SALT_BYTES)) for user, password in passwords.items()}
    _write(path, password_file(old, hashes))
    return "brought up to date" if old else "written"


def _put(path: Path, text: str) -> str:
    old = _text(path)
    if old and needed(text) <= needed(old):
        return "kept, for it says all that is needed"
    if old:
        aside = path.with_name(f"before-{path.name}")
        path.replace(aside)
    _write(path, text)
    return f"written; the one before is {aside.name}" if old else "written"


def _text(path: Path) -> str:
    return path.read_text(encoding="utf-8") if path.is_file() else ""


def _write(path: Path, text: str) -> None:
    part = path.with_name(f"{path.name}.part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def _me() -> str | None:
    """The name of this user on systems that have a broker run as one."""
    try:
        import pwd  # not to be had on every system
    except ImportError:
        return None
    return pwd.getpwuid(os.getuid()).pw_name
