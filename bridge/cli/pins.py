"""The PIN that acting from another device needs: kept beside the store, so that it is the same from evening to evening.

Rule: it is in a file that its owner alone may read, and on the terminal; nowhere else.
"""

from __future__ import annotations

import argparse
import os
import re
import secrets
from contextlib import suppress
from pathlib import Path

from bridge.dashboard import Pin, is_this_machine

FILE = "page-pin"
DIGITS = 6
HELP = (
    "the PIN, 4 to 12 digits, that acting from another device needs; unless said, the one in the file "
    f"{FILE} beside the store, which is made where it is not there"
)


class PinError(Exception):
    """The file holds no PIN; the message says what to do."""


def pin_code(text: str) -> str:
    """A PIN on the command line; for argparse."""
    if not _is_pin(text):
        raise argparse.ArgumentTypeError(f"{text!r} is no PIN: 4 to 12 digits")
    return text


def pin_for(host: str, asked: str | None, folder: Path, known: str | None = None) -> Pin | None:
    """The PIN of a page that listens at `host`; None where only this machine reaches it.

    `asked` is the command line's; `folder` that of the store; `known` one that was printed already. Raises PinError.
    """
    if is_this_machine(host):
        return None
    if asked is not None:
        return Pin(asked, "It is the one with which Numbertaker was started.")
    path = folder / FILE
    code = _read(path) or known or f"{secrets.randbelow(10**DIGITS):0{DIGITS}}"
    is_kept = path.exists() or _kept(path, code)
    beside = f", and stands in the file {FILE} beside the journal" if is_kept else ""
    return Pin(code, f"It was printed where Numbertaker was started{beside}.")


def pin_line(pin: Pin | None) -> str:
    """What is said of it at the start; "" where there is none."""
    return "" if pin is None else f"PIN for acting from another device: {pin.code}\n"


def _is_pin(text: str) -> bool:
    return re.fullmatch(r"\d{4,12}", text, re.ASCII) is not None


def _read(path: Path) -> str | None:
    try:
        text = path.read_text(encoding="ascii", errors="replace").strip()
        with suppress(OSError):
            path.chmod(0o600)
    except FileNotFoundError:
        return None
    except OSError as error:
        raise PinError(
            f"{path} cannot be read ({error.strerror}): make it a file that you may read, or say --pin."
        ) from error
    if not _is_pin(text):
        raise PinError(f"{path} holds no PIN: write 4 to 12 digits into it, or delete it and a new one is made.")
    return text


def _kept(path: Path, code: str) -> bool:
    """Whether it could be written down; where not, it is another next time."""
    try:
        number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except OSError:
        return False
    with os.fdopen(number, "w", encoding="ascii") as file:
        file.write(f"{code}\n")
    return True
