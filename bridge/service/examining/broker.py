"""The broker: what it really lets us do and really keeps, found by doing it.

Rule: a running session is not disturbed. What is tried has topics of its own, under `numbertaker/<railway>/probe/`; on the
topics of boards and operators only empty messages are sent, which nobody takes for anything. Sessions and stored messages
that were made are removed.
"""

from __future__ import annotations

import secrets
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace

from bridge.links.broker import Broker, remedy
from bridge.links.topics import filters_of, topic_of
from bridge.service.examining.finding import Finding, advice, fault, good
from bridge.service.examining.visit import NotThereError, Visit, forget

WAITING = 3_000
FILL_S = 5.0
DRAIN_S = 4.0
RESTARTED_WITH = 500
RESTART_S = 20.0
HELD_BY_BOARDS = 32
REMEDY = "`numbertaker broker FOLDER` writes settings with which it does."


@dataclass(frozen=True, slots=True)
class Probe:
    """A broker to be examined for one railway; `mark` sets this examination's topics and sessions apart from any other's."""

    broker: Broker
    railway: str
    mark: str

    def topic(self, *levels: str) -> str:
        """A topic of this examination."""
        return topic_of(self.railway, "probe", self.mark, *levels)

    def name(self, what: str) -> str:
        """A client id of this examination."""
        return f"numbertaker-doctor-{self.mark}-{what}"

    def visit(self, what: str, *, is_kept: bool = False, will: str | None = None) -> Visit:
        """Connect."""
        return Visit(self.broker, self.name(what), is_kept=is_kept, will=will)


def broker_findings(broker: Broker, railway: str, restart: str | None = None) -> Iterator[Finding]:
    """All that is wrong with a broker. `restart` is a command of the shell that restarts it."""
    probe = Probe(broker, railway, secrets.token_hex(4))
    try:
        with probe.visit("first"):
            yield good(f"The broker {broker.where} lets us in{_as(broker)}, with MQTT 5.")
    except NotThereError as error:
        yield _not_there(broker, str(error))
        return
    yield from _open_to_all(broker, probe)
    steps: list[Callable[[Probe], Iterator[Finding]]] = [_reading, _stored, _will, _unacknowledged, _waiting]
    for step in steps:
        try:
            yield from step(probe)
        except NotThereError as error:
            yield fault(f"The broker {broker.where} was lost while it was examined ({error}).", "Look into its log.")
            return
    if restart is not None:
        yield from _restarted(probe, restart)


def _as(broker: Broker) -> str:
    return "" if broker.user is None else f" as {broker.user}"


def _not_there(broker: Broker, why: str) -> Finding:
    what = remedy(why)
    if what != remedy(""):
        return fault(f"The broker {broker.where} refuses{_as(broker)}: {why}.", what)
    return fault(
        f"The broker {broker.where} is not reached ({why}).",
        "Is it running, and are host, port and tls of [broker] right? `numbertaker broker FOLDER` says how to start one.",
    )


def _open_to_all(broker: Broker, probe: Probe) -> Iterator[Finding]:
    try:
        with Visit(replace(broker, user=None, password=None), probe.name("nobody")):
            yield advice(
                "It lets everybody in, without a password.",
                "Let in only who has one: `numbertaker broker FOLDER` writes settings, users and passwords for that.",
            )
    except NotThereError:
        yield good("It lets nobody in without a password.")


def _reading(probe: Probe) -> Iterator[Finding]:
    """What is published where boards and operators speak comes to us: an access list may hide it without a word."""
    asked = [name.replace("+", "doctor") for name in filters_of(probe.railway)] + [probe.topic("echo")]
    with probe.visit("reader") as reader:
        if not reader.listen([*filters_of(probe.railway), f"{probe.topic()}/#"]):
            yield fault("It does not let us subscribe.", "Allow it to this user in the broker's access list.")
            return
        refused = [topic for topic in asked if (answer := reader.publish(topic)) is None or answer >= 128]
        reader.wait_heard(len(asked) - len(refused))
        heard = {topic for topic, _, _ in reader.heard}
    deaf = [topic for topic in asked if topic not in heard and topic not in refused]
    root = f"{topic_of(probe.railway)}/#"
    if refused:
        yield fault(f"It does not let us publish to {_list(refused)}.", f"Let this user read and write {root}.")
    if deaf:
        said = f"It takes messages to {_list(deaf)} and does not deliver them, without a word."
        yield fault(said, f"Its access list hides them: let this user read and write {root}.")
    if not refused and not deaf:
        yield good("What is published on the topics of boards and operators comes through.")


def _stored(probe: Probe) -> Iterator[Finding]:
    """A retained message is kept, marked as such, and can be removed: a board's `up` and `down` are such."""
    topic = probe.topic("stored")
    with probe.visit("storing") as visit:
        visit.publish(topic, b"kept", retain=True)
    with probe.visit("stored") as visit:
        visit.listen([topic])
        is_kept = visit.wait_heard(1) and visit.heard[0][1:] == (b"kept", True)
        visit.publish(topic, b"", retain=True)
    if is_kept:
        yield good("It keeps stored (retained) messages, and marks them as such.")
    else:
        yield fault("It does not keep stored (retained) messages.", "Boards that are up are then not known: allow them.")


def _will(probe: Probe) -> Iterator[Finding]:
    """A board that is cut off is said to be down by the broker."""
    topic = probe.topic("will")
    with probe.visit("mourner") as mourner:
        mourner.listen([topic])
        probe.visit("mortal", will=topic).cut()
        began = time.monotonic()
        if mourner.wait_heard(1):
            yield good(
                f"It says within {max(0.1, time.monotonic() - began):.1f} s that a client was cut off (its last will)."
            )
        else:
            yield fault("It does not deliver the last will of a client that was cut off.", "Use a broker that does.")


def _unacknowledged(probe: Probe) -> Iterator[Finding]:
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


def _waiting(probe: Probe) -> Iterator[Finding]:
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


def _restarted(probe: Probe, command: str) -> Iterator[Finding]:
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


def _list(topics: list[str]) -> str:
    return " and ".join(topics)
