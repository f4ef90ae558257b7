"""A broker of one's own for a demonstration: Mosquitto on a free port of this machine, where it is installed.

Rule: it listens to this machine alone, keeps nothing, and ends with whoever started it.
"""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

HOST = "127.0.0.1"
UP_S = 5.0
SETTINGS = """listener {port} {host}
allow_anonymous true
persistence false
log_dest none
max_inflight_messages 0
max_queued_messages 0
"""


@contextmanager
def private_broker(folder: Path) -> Iterator[int | None]:
    """The port of a broker that runs while this is entered, its settings in `folder`; None where it is not installed.

    Raises OSError where it is installed and does not come up.
    """
    program = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
    if program is None:
        yield None
        return
    port = _free_port()
    settings = folder / "broker.conf"
    settings.write_text(SETTINGS.format(port=port, host=HOST), encoding="ascii")
    process = subprocess.Popen(
        [program, "-c", str(settings)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,  # Ctrl-C is for us: we end it, after the last message
    )
    try:
        _wait_until_up(process, port)
        yield port
    finally:
        process.terminate()
        with suppress(subprocess.TimeoutExpired):
            process.wait(3.0)
        process.kill()
        process.wait()


def _free_port() -> int:
    with socket.create_server((HOST, 0)) as probe:
        return int(probe.getsockname()[1])


def _wait_until_up(process: subprocess.Popen[bytes], port: int) -> None:
    until = time.monotonic() + UP_S
    while process.poll() is None and time.monotonic() < until:
        try:
            socket.create_connection((HOST, port), 0.2).close()
        except OSError:
            time.sleep(0.02)
        else:
            return
    raise OSError("the broker mosquitto is installed and does not come up")
