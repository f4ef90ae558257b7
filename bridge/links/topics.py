"""The MQTT topics of one railway, and what a message on one of them becomes.

Rules. Topics are compared byte for byte. A stored (retained) report is of unknown age: it is refused and named, so that it
never counts as something that happens now. A board may speak only under its own topic. What is refused keeps its topic in
the rejected bytes: they tell which board to look at.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from bridge.wire.capture import one_line
from bridge.wire.encode import encode
from bridge.wire.lines import Reject, RejectReason
from bridge.wire.parser import BoardParser, is_board_name
from bridge.wire.records import BoardDown, BoardUp, Received, Record, Rejected, Said

LINK = "mqtt"
MAX_PAYLOAD_BYTES = 65_536
MAX_WORDS_BYTES = 1_000

_FORBIDDEN = frozenset("+#\x00")  # MQTT 3.1.1 and 5.0, section 4.7: never in the name of a topic
_KEPT_PAYLOAD_BYTES = 240


@dataclass(frozen=True, slots=True)
class Topic:
    """A topic that the host listens to; `board` is empty for the operator's."""

    kind: Literal["out", "link", "operator"]
    board: str = ""


def is_topic_name(name: str) -> bool:
    """Whether a message may be published under this name."""
    return 0 < len(name.encode("utf-8", "replace")) <= 65_535 and _FORBIDDEN.isdisjoint(name)


def topic_of(railway: str, *levels: str) -> str:
    """`numbertaker/<railway>/<levels>`. Raises ValueError where that is no name to publish under or leaves this railway."""
    name = "/".join(("numbertaker", railway, *levels))
    if not railway or "/" in railway or not is_topic_name(name):
        raise ValueError(f'"{name}" is no topic: a name has no "+", "#" or NUL, and a railway\'s id no "/" either.')
    return name


def filters_of(railway: str) -> tuple[str, str, str]:
    """What the host subscribes to."""
    root = topic_of(railway)
    return (f"{root}/boards/+/out", f"{root}/boards/+/link", f"{root}/operator")


def read_topic(railway: str, name: str) -> Topic | None:
    """Which of the railway's topics this is; None for every other name, and for a board that cannot be called so."""
    match name.split("/"):
        case ["numbertaker", of, "boards", board, "out" | "link" as kind] if of == railway and is_board_name(board):
            return Topic(kind, board)
        case ["numbertaker", of, "operator"] if of == railway:
            return Topic("operator")
    return None


def read_message(t: float, railway: str, name: str, payload: bytes, is_retained: bool) -> tuple[Record, ...]:
    """The records that a message makes; none where it is empty, which is how a stored message is deleted."""
    if not payload:
        return ()
    topic = read_topic(railway, name)
    if topic is None:
        return (_refused(t, RejectReason.BAD_FIELD, name, payload),)
    if is_retained and topic.kind != "link":
        return (_refused(t, RejectReason.RETAINED, name, payload),)
    match topic.kind:
        case "out":
            return _reports(t, name, topic.board, payload)
        case "link":
            return (_link_state(t, name, topic.board, payload),)
        case "operator":
            return _words(t, name, payload)


def _reports(t: float, name: str, board: str, payload: bytes) -> tuple[Record, ...]:
    if len(payload) > MAX_PAYLOAD_BYTES:
        return (_refused(t, RejectReason.TOO_LONG, name, payload),)
    records: list[Record] = []
    parser = BoardParser()
    for said in (*parser.feed(payload), *parser.finish()):
        if isinstance(said, Reject):
            records.append(Rejected(t, LINK, said.reason.value, said.raw))
        elif said.board != board:
            records.append(_refused(t, RejectReason.WRONG_BOARD, name, encode(said)[:-1]))
        else:
            records.append(Received(t, LINK, said))
    return tuple(records)


def _link_state(t: float, name: str, board: str, payload: bytes) -> Record:
    match payload.strip():
        case b"up":
            return BoardUp(t, LINK, board)
        case b"down":
            return BoardDown(t, LINK, board)
    return _refused(t, RejectReason.UNKNOWN_WORD, name, payload)


def _words(t: float, name: str, payload: bytes) -> tuple[Record, ...]:
    if len(payload) > MAX_WORDS_BYTES:
        return (_refused(t, RejectReason.TOO_LONG, name, payload),)
    try:
        lines = payload.decode("utf-8").splitlines()
    except UnicodeDecodeError:
        return (_refused(t, RejectReason.BAD_FIELD, name, payload),)
    return tuple(Said(t, None, words) for line in lines if (words := one_line(line)))


def _refused(t: float, reason: RejectReason, name: str, payload: bytes) -> Rejected:
    return Rejected(t, LINK, reason.value, name.encode("utf-8", "replace") + b" " + payload[:_KEPT_PAYLOAD_BYTES])
