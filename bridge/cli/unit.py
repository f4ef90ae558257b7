"""`numbertaker unit`: the service as systemd keeps it, written for this folder, this user and this installation.

Rule: what is printed can be taken as it is. It restarts whatever ends, watches that the loop goes round, and lets the
program write nowhere but where the store lies; serial ports stay open to it.

Quoting is that of systemd.syntax(7) and systemd.service(5): in double quotes, with backslash, quote, "%" and "$" escaped.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from bridge.cli import run as live
from bridge.cli.addresses import LISTEN
from bridge.cli.folders import taken
from bridge.cli.printing import complain

HELP = "print a systemd unit: the session as a standing service of this computer"
EPILOG = """example:
  numbertaker unit my-railway | sudo tee /etc/systemd/system/numbertaker.service
  sudo systemctl enable --now numbertaker

It runs `numbertaker run` on that folder as the user who prints it, with the options given here. Look after it with
`systemctl status numbertaker` and `journalctl -u numbertaker`.
Exit status: 1 where the folder cannot be used or the computer has no systemd, 2 on wrong usage."""

SERIAL_GROUPS = ("dialout", "uucp")
"""Who may open serial ports: Debian and its like, and others."""

REFUSED = set("\"'\\$")
"""Characters that systemd takes in a word, but not in the program's own name."""

UNIT = """\
# numbertaker unit: put it at /etc/systemd/system/numbertaker.service, then: systemctl enable --now numbertaker
[Unit]
Description={description}
After=network.target mosquitto.service
StartLimitIntervalSec=0

[Service]
Type=notify
NotifyAccess=main
ExecStart={command}
User={user}
{groups}\
# The loop itself says that it is alive: one that hangs is ended, with its trace in the log, and started again.
WatchdogSec=30
Environment=PYTHONFAULTHANDLER=1
Restart=always
RestartSec=2
# A long journal is read through before the service is ready; stopping takes two seconds.
TimeoutStartSec=15min
TimeoutStopSec=10
# Neither PrivateDevices nor ProtectClock: both would take the serial ports away.
ProtectSystem=strict
ProtectHome=read-only
ReadWritePaths={writes}
PrivateTmp=yes
NoNewPrivileges=yes
CapabilityBoundingSet=
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectHostname=yes
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6 AF_NETLINK
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
LockPersonality=yes
SystemCallArchitectures=native

[Install]
WantedBy=multi-user.target
"""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "unit", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    live.add_arguments(parser)
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print the unit; 1 where there is nothing to print."""
    if sys.platform != "linux":
        complain("unit", "systemd is found on Linux only; here start `numbertaker run` by the means of this system.")
        return 1
    read = taken(arguments.folder)
    if read is None or read.railway is None:
        return 1
    user = _user()
    if user == "root":
        complain("unit", "this unit would run as root. Print it as the user who is to own the journal.")
    plant = read.railway.plant
    print(unit(plant.name or plant.id, arguments, program(), user, _serial_group()), end="")
    return 0


def unit(name: str, arguments: argparse.Namespace, command: Sequence[str], user: str, group: str | None) -> str:
    """The text of the unit for a railway of this name; `command` is what starts numbertaker."""
    if set(command[0]) & REFUSED:
        command = ("/usr/bin/env", *command)
    folder = arguments.folder.absolute()
    writes = dict.fromkeys([folder] + ([] if arguments.store is None else [arguments.store.absolute().parent]))
    return UNIT.format(
        description=f"Numbertaker: {' '.join(name.split())}".replace("%", "%%"),
        command=" ".join([quoted(word).replace("$", "$$") for word in (*command, "run", str(folder), *_options(arguments))]),
        user=user,
        groups="" if group is None else f"SupplementaryGroups={group}\n",
        writes=" ".join(quoted(str(path)) for path in writes),
    )


def quoted(word: str) -> str:
    """A word as systemd reads it back."""
    escaped = word.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t").replace("%", "%%")
    return f'"{escaped}"'


def program() -> list[str]:
    """What starts this installation: its own script where there is one, by its whole path."""
    for script in (Path(sys.argv[0]).absolute(), Path(sys.executable).with_name("numbertaker")):
        if script.name == "numbertaker" and script.is_file():
            return [str(script)]
    return [sys.executable, "-c", "import sys; from bridge.cli import main; sys.exit(main())"]


def _options(arguments: argparse.Namespace) -> list[str]:
    options: list[str] = []
    if arguments.store is not None:
        options += ["--store", str(arguments.store.absolute())]
    if arguments.listen != LISTEN:
        options += ["--listen", _place(*arguments.listen)]
    if arguments.broker is not None:
        options += ["--broker", _place(*arguments.broker)]
    for port in arguments.port:
        options += ["--port", port]
    return options + (["--no-serial"] if arguments.no_serial else [])


def _place(host: str, port: int) -> str:
    return f"[{host}]:{port}" if ":" in host else f"{host}:{port}"


def _user() -> str:
    import os
    import pwd

    return pwd.getpwuid(os.getuid()).pw_name


def _serial_group() -> str | None:
    import grp

    names = {group.gr_name for group in grp.getgrall()}
    return next((name for name in SERIAL_GROUPS if name in names), None)
