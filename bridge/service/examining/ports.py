"""The serial ports: which there are, who has them, whether they open.

Rule: a port that another program has open is left alone. One that nobody has is opened and closed at once; nothing is
written to it.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path

import serial

from bridge.links.serial import usb_ports
from bridge.links.serial_device import holders, why_not_open
from bridge.links.serial_port import open_port
from bridge.service.examining.finding import Finding, advice, fault, good


def port_findings(
    named: Sequence[str],
    serial_boards: Sequence[str],
    list_ports: Callable[[], Iterable[str]] = usb_ports,
    open_one: Callable[[str], serial.Serial] = open_port,
) -> Iterator[Finding]:
    """What is wrong with the ports that are `named`, and with what else is plugged in."""
    plugged = [path for path in list_ports() if path not in named]
    if not plugged and not named:
        if serial_boards:
            yield fault(
                f"No USB serial port is there, and {_list(serial_boards)} should be on one.",
                "Plug the boards in. A cable that only charges has no data wires. A port that is not USB is to be named.",
            )
        else:
            yield good("No USB serial port is there, and no board has to be on one.")
    for path in (*named, *plugged):
        yield _port(path, path in named, open_one)


def _port(path: str, is_named: bool, open_one: Callable[[str], serial.Serial]) -> Finding:
    others = holders(path)
    if any("numbertaker" in other for other in others):
        return good(f"{path} is used by {_list(others)}.")
    if others:
        said = f"{path} is in use by {_list(others)}."
        return (fault if is_named else advice)(said, "Close it there if a board of the railway is on that port.")
    try:
        open_one(path).close()
    except Exception as error:  # pyserial lets termios.error and ValueError through
        if getattr(error, "errno", None) in (errno.EACCES, errno.EPERM):
            return _not_allowed(path)
        sentence, _, remedy = why_not_open(path, error).partition(". ")
        return (fault if is_named else advice)(f"{sentence}.", remedy)
    return good(f"{path} opens.")


def _not_allowed(path: str) -> Finding:
    try:
        import grp
        import pwd

        group = grp.getgrgid(Path(path).stat().st_gid)
        me = pwd.getpwuid(os.getuid()).pw_name
    except (ImportError, KeyError, OSError):
        return fault(f"You may not open {path}.", "Let this user use serial ports, as your system has it.")
    if me in group.gr_mem and group.gr_gid not in os.getgroups():
        return fault(
            f"You may not open {path} yet: you are in the group {group.gr_name}, and this login does not know it.",
            "Log out and in again.",
        )
    return fault(
        f"You may not open {path}: it belongs to the group {group.gr_name}, and {me} is not in it.",
        f"sudo usermod -aG {group.gr_name} {me}, then log out and in again.",
    )


def _list(names: Sequence[str]) -> str:
    return " and ".join(names)
