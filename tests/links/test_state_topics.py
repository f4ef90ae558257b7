"""The state on a real broker: whole for whoever comes late, cleared of what is no more, and nobody waits for the broker."""

from __future__ import annotations

import copy
import json
import signal
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from bridge.links.broker import Broker
from bridge.links.state_topics import StateTopics
from bridge.published import bridge_is, things

from ..published.test_things import EXAMPLE
from ..waiting import wait_for
from .brokers import BoardClient, Mosquitto

pytestmark = pytest.mark.wires

ROOT = "numbertaker/branch/state/"
HERE, STOPPED, GONE = (bridge_is(state) for state in ("here", "stopped", "gone"))


def nobody(_arrival: object) -> None:
    """Nothing ever arrives from it."""


def now_on(client: BoardClient) -> dict[str, Any]:
    """What a subscriber has by now, thing by thing; the clock left out."""
    found: dict[str, Any] = {}
    for topic, payload, _ in list(client.heard):
        suffix = topic.removeprefix(ROOT)
        if payload:
            found[suffix] = json.loads(payload)
        else:
            found.pop(suffix, None)
    found.pop("clock", None)
    return found


def whole(snapshot: dict[str, Any], bridge: Any = HERE) -> dict[str, Any]:
    return {**things(snapshot), "bridge": bridge}


def other(**vehicle: Any) -> dict[str, Any]:
    """Another snapshot: something of an engine has changed."""
    snapshot = copy.deepcopy(EXAMPLE)
    snapshot["vehicles"]["e7"].update(vehicle)
    return snapshot


@pytest.fixture
def reader(client_of: Callable[..., BoardClient]) -> Callable[[Mosquitto], BoardClient]:
    """`reader(broker)`: somebody who subscribes to the state now."""

    def listening(broker: Mosquitto) -> BoardClient:
        client = client_of(broker)
        client.listen(f"{ROOT}#")
        return client

    return listening


@pytest.fixture
def topics_on() -> Iterator[Callable[..., StateTopics]]:
    made: list[StateTopics] = []

    def start(broker: Mosquitto, snapshot: Any = EXAMPLE, **login: str) -> StateTopics:
        made.append(StateTopics("branch", Broker("127.0.0.1", broker.port, **login)))
        made[-1].show(snapshot)
        made[-1].start(nobody)
        return made[-1]

    yield start
    for state in made:
        state.stop()


def test_who_comes_late_has_all_of_it_then_what_changes(broker, topics_on, reader) -> None:
    state = topics_on(broker)
    first = reader(broker)
    wait_for(lambda: now_on(first) == whole(EXAMPLE))
    late = reader(broker)
    wait_for(lambda: now_on(late) == whole(EXAMPLE))
    count = len(late.heard)
    assert all(is_retained for _, _, is_retained in late.heard)
    changed = other(sure=0.5)
    state.show(changed)
    wait_for(lambda: now_on(late) == whole(changed))
    news = [topic for topic, _, _ in late.heard[count:] if not topic.endswith("/clock")]
    assert news == [f"{ROOT}vehicles/e7"]  # and nothing else


def test_what_is_no_more_is_cleared_also_what_an_earlier_start_has_left(broker, topics_on, reader, client_of) -> None:
    stranger = client_of(broker)
    for suffix in ("vehicles/gone", "irregularities/i99", "trains/%3Cb%3E"):
        stranger.publish(f"{ROOT}{suffix}", '{"id": "gone"}', retain=True)
    state = topics_on(broker)
    first = reader(broker)
    wait_for(lambda: now_on(first) == whole(EXAMPLE))
    fewer = {**EXAMPLE, "irregularities": []}
    state.show(fewer)
    wait_for(lambda: now_on(first) == whole(fewer))
    late = reader(broker)
    wait_for(lambda: now_on(late) == whole(fewer))
    assert not any(payload == b"" for _, payload, _ in late.heard)


def test_here_is_said_last(broker, topics_on, reader) -> None:
    first = reader(broker)
    topics_on(broker)
    wait_for(lambda: now_on(first) == whole(EXAMPLE))
    said = [topic.removeprefix(ROOT) for topic, _, _ in first.heard if not topic.endswith("/clock")]
    assert (said[-1], said.count("bridge")) == ("bridge", 1)


def test_a_goodbye_is_said_and_the_state_stays(broker, topics_on, reader) -> None:
    state = topics_on(broker)
    first = reader(broker)
    wait_for(lambda: now_on(first) == whole(EXAMPLE))
    state.stop()
    late = reader(broker)
    wait_for(lambda: now_on(late) == whole(EXAMPLE, STOPPED))


def test_without_a_goodbye_the_broker_says_it(broker, topics_on, reader) -> None:
    state = topics_on(broker)
    first = reader(broker)
    wait_for(lambda: now_on(first) == whole(EXAMPLE))
    state._client.socket().shutdown(2)  # the line is cut
    wait_for(lambda: GONE in [json.loads(p) for topic, p, _ in list(first.heard) if topic == f"{ROOT}bridge"])
    wait_for(lambda: now_on(first) == whole(EXAMPLE))  # and it is back, by itself


def test_a_broker_that_hangs_is_not_waited_for_and_gets_the_newest(broker, topics_on, reader) -> None:
    state = topics_on(broker)
    first = reader(broker)
    wait_for(lambda: now_on(first) == whole(EXAMPLE))
    broker.signal(signal.SIGSTOP)
    try:
        state.show(other(order=1_000))
        wait_for(lambda: state.waiting)
        for n in range(2_000):  # were it to wait for the broker, this would never end
            state.show(other(order=n))
        assert state.waiting <= len(whole(EXAMPLE))
        state.show(other(order=5, sure=0.25))
    finally:
        broker.signal(signal.SIGCONT)
    wait_for(lambda: now_on(first) == whole(other(order=5, sure=0.25)))
    told = [json.loads(payload)["order"] for topic, payload, _ in first.heard if topic == f"{ROOT}vehicles/e7"]
    assert len(told) < 6  # what lay between is gone


def test_a_broker_that_is_killed_and_has_forgotten_everything(new_broker, topics_on, reader) -> None:
    broker = new_broker("allow_anonymous true", "persistence false")
    broker.start()
    state = topics_on(broker)
    first = reader(broker)
    wait_for(lambda: now_on(first) == whole(EXAMPLE))
    broker.kill()
    state.show(other(sure=0.75))
    broker.start()
    late = reader(broker)
    wait_for(lambda: now_on(late) == whole(other(sure=0.75)))
    assert state.troubles() == ()


def test_a_broker_that_is_not_there_is_waited_for(new_broker, topics_on, reader) -> None:
    broker = new_broker()
    state = topics_on(broker)
    state.show(other(sure=0.125))
    broker.start()
    first = reader(broker)
    wait_for(lambda: now_on(first) == whole(other(sure=0.125)))


def test_a_broker_that_does_not_let_it_write_is_named(new_broker, topics_on, tmp_path) -> None:
    (tmp_path / "access").write_text("topic read #\n")
    broker = new_broker("allow_anonymous true", f"acl_file {tmp_path / 'access'}")
    broker.start()
    state = topics_on(broker)
    (text,) = wait_for(state.troubles)
    assert f"does not let numbertaker write {ROOT}#" in text
    assert "access list" in text


def test_a_picture_that_is_none_is_told_and_nothing_is_left_standing_as_if_it_were_true(broker, topics_on, reader) -> None:
    state = topics_on(broker)
    first = reader(broker)
    wait_for(lambda: now_on(first) == whole(EXAMPLE))
    state.show({"railway": None})
    (text,) = wait_for(state.troubles)
    assert "no longer published" in text
    wait_for(lambda: now_on(first)["bridge"] == STOPPED)
