"""The broker: what it really lets us do and really keeps, found by doing it.

Rule: a running session is not disturbed. What is tried has topics of its own, under `numbertaker/<railway>/probe/`; on the
topics of boards and operators only empty messages are sent, which nobody takes for anything. Sessions and stored messages
that were made are removed.
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable, Iterator
from dataclasses import replace

from bridge.links.broker import Broker, remedy
from bridge.links.topics import filters_of, topic_of
from bridge.service.examining.finding import Finding, advice, fault, good
from bridge.service.examining.keeping import restarted, unacknowledged, waiting
from bridge.service.examining.probe import Probe
from bridge.service.examining.visit import NotThereError, Visit


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
    steps: list[Callable[[Probe], Iterator[Finding]]] = [_reading, _stored, _will, unacknowledged, waiting]
    for step in steps:
        try:
            yield from step(probe)
        except NotThereError as error:
            yield fault(f"The broker {broker.where} was lost while it was examined ({error}).", "Look into its log.")
            return
    if restart is not None:
        yield from restarted(probe, restart)


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


def _list(topics: list[str]) -> str:
    return " and ".join(topics)
