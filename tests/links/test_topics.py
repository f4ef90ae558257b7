"""Topics and messages, without a broker."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt.client import topic_matches_sub

from bridge.links.topics import Topic, filters_of, is_topic_name, read_message, read_topic, topic_of
from bridge.wire.encode import encode
from bridge.wire.lines import Alive, Ask, Hello, Report
from bridge.wire.records import BoardDown, BoardUp, Received, Rejected, Said

OUT = "numbertaker/branch/boards/alder/out"
LINK = "numbertaker/branch/boards/alder/link"
OPERATOR = "numbertaker/branch/operator"

# The examples of MQTT 3.1.1 and 5.0, section 4.7 (all as paho-mqtt 2.2.0 answers them), carried over to these topics: what a
# "+" fills, that it fills one level and no more, that an empty level is a level, that case counts and "/" in front does too.
NAMES = [
    (OUT, Topic("out", "alder")),
    (LINK, Topic("link", "alder")),
    (OPERATOR, Topic("operator")),
    ("numbertaker/branch/boards/alder/out/more", None),
    ("numbertaker/branch/boards/alder/out/", None),
    ("numbertaker/branch/boards/alder", None),
    ("numbertaker/branch/boards/alder/", None),
    ("numbertaker/branch/boards/alder/in", None),
    ("numbertaker/branch/boards/alder/Out", None),
    ("Numbertaker/branch/boards/alder/out", None),
    ("/numbertaker/branch/boards/alder/out", None),
    ("numbertaker/Branch/boards/alder/out", None),
    ("numbertaker/other/boards/alder/out", None),
    ("numbertaker//boards/alder/out", None),
    ("numbertaker/branch/boards/alder/quarry/out", None),
    ("numbertaker/branch/operator/ute", None),
    ("numbertaker/branch/says/arrived", None),
    ("$SYS/broker/uptime", None),
    ("", None),
]


@pytest.mark.parametrize(("name", "topic"), NAMES)
def test_a_name_is_read_as_the_broker_matches_it(name: str, topic: Topic | None) -> None:
    assert read_topic("branch", name) == topic
    assert any(topic_matches_sub(pattern, name) for pattern in filters_of("branch")) == (topic is not None)


@pytest.mark.parametrize("board", ["", "Alder", "al_der", "a-board-name-too-long", "+", "#", "$alder", "älder"])
def test_a_board_that_cannot_be_called_so_is_none(board: str) -> None:
    name = f"numbertaker/branch/boards/{board}/out"
    assert topic_matches_sub(filters_of("branch")[0], name)
    assert read_topic("branch", name) is None
    (record,) = read_message(1.0, "branch", name, b"x", False)
    assert isinstance(record, Rejected) and record.reason == "bad-field" and record.raw.startswith(name.encode())


@pytest.mark.parametrize(
    "name", ["sport/tennis#", "sport/tennis/#/ranking", "sport+", "sport/+tennis", "", "+", "#", "a\x00b"]
)
def test_no_wildcard_is_published_to(name: str) -> None:
    assert not is_topic_name(name)
    if name:
        with pytest.raises(ValueError, match="is no topic"):
            topic_of("branch", name)


@pytest.mark.parametrize("railway", ["", "+", "#", "a/b", "a\x00"])
def test_a_railway_is_one_level(railway: str) -> None:
    with pytest.raises(ValueError, match="is no topic"):
        filters_of(railway)


def test_a_name_may_be_65535_bytes_long() -> None:
    assert is_topic_name("ä" * 32_767 + "a")
    assert not is_topic_name("ä" * 32_768)


def test_several_lines_and_the_last_without_its_end() -> None:
    lines = [Hello("alder", 17, 1204, 10), Report("alder", 17, 1, 1300, 3, "on"), Alive("alder", 17, 1, 1400)]
    payload = b"".join(encode(line) for line in lines)
    wanted = tuple(Received(2.5, "mqtt", line) for line in lines)
    assert read_message(2.5, "branch", OUT, payload, False) == wanted
    assert read_message(2.5, "branch", OUT, payload[:-1], False) == wanted
    assert read_message(2.5, "branch", OUT, payload.replace(b"\n", b"\r\n"), False) == wanted


def test_what_is_no_line_is_rejected_beside_the_rest() -> None:
    good = Alive("alder", 17, 1, 1400)
    rejected, received, unknown = read_message(1.0, "branch", OUT, b"nonsense\n" + encode(good) + encode(Ask()), False)
    assert rejected == Rejected(1.0, "mqtt", "no-sum", b"nonsense")
    assert received == Received(1.0, "mqtt", good)
    assert unknown == Rejected(1.0, "mqtt", "unknown-word", b"ask*79")


def test_a_stored_report_is_refused_and_named() -> None:
    payload = encode(Report("alder", 17, 1, 1300, 3, "on"))
    assert read_message(1.0, "branch", OUT, payload, True) == (
        Rejected(1.0, "mqtt", "retained", OUT.encode() + b" " + payload),
    )
    (record,) = read_message(1.0, "branch", OPERATOR, b"begin 19:00", True)
    assert isinstance(record, Rejected) and record.reason == "retained"


def test_a_line_under_another_board_s_topic_is_refused_and_named() -> None:
    own, other = Alive("alder", 17, 1, 1400), Alive("birch", 3, 0, 90)
    received, refused = read_message(1.0, "branch", OUT, encode(own) + encode(other), False)
    assert received == Received(1.0, "mqtt", own)
    assert refused == Rejected(1.0, "mqtt", "wrong-board", OUT.encode() + b" " + encode(other)[:-1])


@pytest.mark.parametrize("is_retained", [True, False])
def test_a_board_s_link_says_up_or_down(is_retained: bool) -> None:
    assert read_message(1.0, "branch", LINK, b"up", is_retained) == (BoardUp(1.0, "mqtt", "alder"),)
    assert read_message(1.0, "branch", LINK, b"down\n", is_retained) == (BoardDown(1.0, "mqtt", "alder"),)
    (record,) = read_message(1.0, "branch", LINK, b"sideways", is_retained)
    assert record == Rejected(1.0, "mqtt", "unknown-word", LINK.encode() + b" sideways")


def test_operators_words() -> None:
    assert read_message(1.0, "branch", OPERATOR, "explain 3 Tür offen".encode(), False) == (
        Said(1.0, None, "explain 3 Tür offen"),
    )
    assert read_message(1.0, "branch", OPERATOR, b"begin 19:00\r\n\n stop-clock \n", False) == (
        Said(1.0, None, "begin 19:00"),
        Said(1.0, None, "stop-clock"),
    )
    for payload, reason in ((b"T\xfcr", "bad-field"), (b"x" * 1_001, "too-long")):
        (record,) = read_message(1.0, "branch", OPERATOR, payload, False)
        assert isinstance(record, Rejected) and record.reason == reason


def test_an_empty_message_deletes_a_stored_one_and_says_nothing() -> None:
    for name in (OUT, LINK, OPERATOR):
        assert read_message(1.0, "branch", name, b"", False) == ()


def test_a_message_without_measure_is_one_reject() -> None:
    (record,) = read_message(1.0, "branch", OUT, b"x\n" * 40_000, False)
    assert isinstance(record, Rejected) and record.reason == "too-long" and len(record.raw) < 400


@given(st.sampled_from([OUT, LINK, OPERATOR]) | st.text(max_size=60), st.binary(max_size=300), st.booleans())
def test_no_message_raises(name: str, payload: bytes, is_retained: bool) -> None:
    read_message(1.0, "branch", name, payload, is_retained)
