"""What a broker keeps: for a client that was cut off, for one that is away, and through a restart.

Rule: it is found by leaving and coming back, with sessions of this examination's own, which are dropped behind it.
"""

from __future__ import annotations

import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import suppress

from bridge.service.examining.finding import Finding, advice, fault, good
from bridge.service.examining.probe import Probe
from bridge.service.examining.visit import NotThereError, Visit, forget

WAITING = 3_000
FILL_S = 5.0
DRAIN_S = 4.0
RESTARTED_WITH = 500
RESTART_S = 20.0
HELD_BY_BOARDS = 32
REMEDY = "`numbertaker broker FOLDER` writes settings with which it does."


def unacknowledged(probe: Probe) -> Iterator[Finding]:
    """What was delivered and not acknowledged comes again: numbertaker acknowledges only what is in its journal."""
    topic, count = probe.topic("unacknowledged"), 3
    first = probe.visit("keeper", is_kept=True)
    try:
        first.listen([topic])
        for n in range(count):
            first.publish(topic, b"%d" % n)
        first.wait_heard(count)
        first.cut()
        with probe.visit("keeper", is_kept=True) as again:
            again.wait_heard(count)
            came = {payload for _, payload, _ in again.heard}
            had = again.had_session
    finally:
        with suppress(NotThereError):
            forget(probe.broker, probe.name("keeper"))
    if len(came) == count:
        yield good("What was delivered and not acknowledged comes again after a lost connection.")
    else:
        what = "though it has kept the session" if had else "and it has forgotten the session"
        yield fault(
            f"Of {count} messages that were not acknowledged {len(came)} came again after a lost connection, {what}.",
            "Nothing that it has taken is safe with it: use another broker, such as Mosquitto.",
        )


def waiting(probe: Probe) -> Iterator[Finding]:
    """How much waits for a numbertaker that is away."""
    sent, came = _sent_and_came(probe, "away", WAITING, FILL_S)
    if came >= sent:
        slow = "" if sent == WAITING else f", as many as it took in {FILL_S:g} s"
        yield good(f"All of {sent:,} messages wait for a numbertaker that is away{slow}.")
    else:
        yield fault(
            f"Of {sent:,} messages to a numbertaker that is away it keeps {came:,} and drops the rest without a word.",
            f"In Mosquitto that is set by `max_queued_messages` (as it comes, 1000). {REMEDY}",
        )


def restarted(probe: Probe, command: str) -> Iterator[Finding]:
    """What of that is left after a restart, by the command of whoever examines."""
    wrong: list[str] = []

    def restart() -> None:
        done = subprocess.run(command, shell=True, capture_output=True, text=True, timeout=RESTART_S, check=False)
        if done.returncode:
            wrong.append(f"`{command}` ended with {done.returncode}: {done.stderr.strip() or done.stdout.strip()}")

    try:
        sent, came = _sent_and_came(probe, "restarted", RESTARTED_WITH, FILL_S, restart)
    except (NotThereError, subprocess.TimeoutExpired) as error:
        yield fault(f"After `{command}` the broker is not back ({error}).", "Start it by hand, and look into its log.")
        return
    if wrong:
        yield fault(f"{wrong[0]}.", "Give a command with --restart that restarts the broker.")
        return
    said = f"Of {sent} messages that waited, {came} are left after `{command}`."
    if came >= sent:
        yield good(said)
    elif came >= sent - HELD_BY_BOARDS:
        yield advice(said, f"Boards hold their last {HELD_BY_BOARDS} reports and are asked for these.")
    else:
        yield fault(said, f"It does not save at once what waits: {REMEDY}")


def _sent_and_came(
    probe: Probe, what: str, count: int, longest_s: float, meanwhile: Callable[[], None] | None = None
) -> tuple[int, int]:
    """How many messages to a session that is away were confirmed, and how many came when it was back."""
    topic = probe.topic(what)
    try:
        with probe.visit(what, is_kept=True) as absent:
            absent.listen([topic])
        with probe.visit(f"{what}-sender") as sender:
            sent = sender.publish_many(topic, count, longest_s)
        if meanwhile is not None:
            meanwhile()
        with _back(probe, what) as back:
            heard = 0
            until = time.monotonic() + DRAIN_S
            while heard < sent and time.monotonic() < until and back.wait_heard(heard + 1, 1.0):
                heard = len({payload for _, payload, _ in back.heard})
        return sent, heard
    finally:
        with suppress(NotThereError):
            forget(probe.broker, probe.name(what))


def _back(probe: Probe, what: str) -> Visit:
    """Connect again, as soon as the broker can be reached."""
    until = time.monotonic() + RESTART_S
    while True:
        try:
            return probe.visit(what, is_kept=True)
        except NotThereError:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)
