"""The capture file: records as lines of text and back, so that a session replays to the same register.

Rule: nothing is lost. Reading what `format_record` wrote gives the record again; a line that cannot be read is a
`CaptureFault` with its number and a remedy, and reading goes on. A board line that is none is a `Rejected` record, as it
would have been on its wire: it counts as a line of the journal.
"""

from __future__ import annotations

import binascii
import re
from base64 import b64decode, b64encode
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from bridge.wire.encode import encode
from bridge.wire.lines import Reject
from bridge.wire.parser import is_board_name, is_value, parse_board_line
from bridge.wire.records import (
    BoardDown,
    BoardUp,
    Closed,
    HostStarted,
    HostStopped,
    Opened,
    Reading,
    Received,
    Record,
    Rejected,
    Said,
)

_LINE = re.compile(rb"[ \t]*(\d{1,9}(?:\.\d+)?)[ \t]+([^ \t]+)(?:[ \t]+(.*))?", re.DOTALL)
_UNWRITABLE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]+")
_MAX_INPUT = 0xFFFF_FFFF


@dataclass(frozen=True, slots=True)
class CaptureFault:
    """What is wrong with one line of a capture, for people.

    `line_no` counts the lines of the file from 1. `kept` is whether a record follows all the same.
    """

    line_no: int
    text: str
    message: str
    remedy: str
    kept: bool = False


class _UnreadableError(Exception):
    """A line that makes no record; becomes a `CaptureFault` before it leaves this module."""

    def __init__(self, message: str, remedy: str, instead: Record | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.remedy = remedy
        self.instead = instead


def read_capture(lines: Iterable[bytes | str]) -> Iterator[Record | CaptureFault]:
    """The records of a capture in order, with a `CaptureFault` before or in place of those that have something wrong.

    Give it a file opened in binary, or lines of text. Comments and blank lines are left out. Never raises on content.
    Seconds that run back are set to those of the line before, so that no record is lost and none runs back.
    """
    last_t = 0.0
    for line_no, given in enumerate(lines, 1):
        raw = given.encode("utf-8", "surrogateescape") if isinstance(given, str) else given
        raw = raw.removesuffix(b"\n").removesuffix(b"\r")
        if line_no == 1:
            raw = raw.removeprefix(b"\xef\xbb\xbf")  # some editors begin a text file with this mark
        if not raw.strip() or raw.lstrip().startswith(b"#"):
            continue
        text = raw.decode("utf-8", "replace")
        record: Record | None
        try:
            record = _record(raw)
        except _UnreadableError as fault:
            record = fault.instead
            yield CaptureFault(line_no, text, fault.message, fault.remedy, record is not None)
        if record is None:
            continue
        if record.t < last_t:
            message = f"The time {record.t:.6f} is before that of the line above it, {last_t:.6f}."
            remedy = f"It was read as {last_t:.6f}. Put the lines back in the order in which they were captured."
            yield CaptureFault(line_no, text, message, remedy, True)
            record = replace(record, t=last_t)
        last_t = record.t
        yield record


def format_record(record: Record) -> str:
    """The record as a line of a capture, without its line end; seconds with 6 decimals."""
    match record:
        case Received(t, link, line):
            return f"{t:.6f} {link} {encode(line)[:-1].decode('ascii')}"
        case Rejected(t, link, reason, raw):
            return f"{t:.6f} {link} !rejected {reason} {b64encode(raw).decode('ascii')}".rstrip(" ")
        case Opened(t, link):
            return f"{t:.6f} {link} !opened"
        case Closed(t, link):
            return f"{t:.6f} {link} !closed"
        case BoardUp(t, link, board):
            return f"{t:.6f} {link} !up {board}"
        case BoardDown(t, link, board):
            return f"{t:.6f} {link} !down {board}"
        case Reading(t, link, board, number, value):
            return f"{t:.6f} {link} !read {board} {number} {value}"
        case HostStarted(t):
            return f"{t:.6f} host started"
        case HostStopped(t):
            return f"{t:.6f} host stopped"
        case Said(t, who, words):
            return f"{t:.6f} operator{'' if who is None else '@' + one_word(who)} {one_line(words)}"


def one_line(words: str) -> str:
    """Words as the one line of a capture can keep them: without line breaks, control characters and outer blanks."""
    return _UNWRITABLE.sub(" ", words).strip(" ")


def one_word(name: str) -> str:
    """A name as it may stand for a link or behind `operator@`: blanks become "-"."""
    return re.sub(" +", "-", one_line(name))


def _record(raw: bytes) -> Record:
    parts = _LINE.fullmatch(raw)
    if parts is None:
        raise _UnreadableError(
            "This line does not begin with seconds and a link.",
            "Write it as SECONDS LINK WHAT, for example: 12.500000 serial-alder !opened",
        )
    t = round(float(parts[1]), 6)
    source, rest = parts[2].decode("utf-8", "replace"), parts[3] or b""
    if source == "host":
        return _host(t, rest)
    if source == "operator" or source.startswith("operator@"):
        return _said(t, source, rest)
    if rest.startswith(b"!"):
        return _link_event(t, source, rest.decode("utf-8", "replace").split())
    if not rest:
        raise _UnreadableError(
            f"Nothing stands behind the link {source}.", "Put the board's line there, or delete the line."
        )
    line = parse_board_line(rest)
    if isinstance(line, Reject):
        return Rejected(t, source, line.reason.value, line.raw)
    return Received(t, source, line)


def _host(t: float, rest: bytes) -> Record:
    match rest.strip():
        case b"started":
            return HostStarted(t)
        case b"stopped":
            return HostStopped(t)
    raise _UnreadableError("The host can only have started or stopped.", "Write: host started, or: host stopped")


def _said(t: float, source: str, rest: bytes) -> Record:
    who = source[len("operator@") :] or None
    words = one_line(rest.decode("utf-8", "replace"))
    if not words:
        raise _UnreadableError("The operator says nothing here.", "Put the words behind it, or delete the line.")
    try:
        rest.decode("utf-8")
    except UnicodeDecodeError:
        raise _UnreadableError(
            "The operator's words are not UTF-8 text; what could not be read is shown as \N{REPLACEMENT CHARACTER}.",
            "Save the file as UTF-8.",
            Said(t, who, words),
        ) from None
    return Said(t, who, words)


def _link_event(t: float, link: str, words: list[str]) -> Record:
    match words:
        case ["!opened"]:
            return Opened(t, link)
        case ["!closed"]:
            return Closed(t, link)
        case ["!up", board] if is_board_name(board):
            return BoardUp(t, link, board)
        case ["!down", board] if is_board_name(board):
            return BoardDown(t, link, board)
        case ["!read", board, number, value] if is_board_name(board) and _is_input(number) and is_value(value):
            return Reading(t, link, board, int(number), value)
        case ["!rejected", reason]:
            return Rejected(t, link, reason, b"")
        case ["!rejected", reason, coded]:
            return Rejected(t, link, reason, _bytes_of(t, link, reason, coded))
    raise _UnreadableError(
        f'"{" ".join(words)}" is nothing that a link does.',
        "A link has !opened, !closed, !up BOARD, !down BOARD, !read BOARD INPUT VALUE or !rejected REASON BASE64; "
        "a board is 1 to 16 of a-z, 0-9 and -, a value is on, off or tag= with 4 to 20 digits 0-9 A-F, in pairs.",
    )


def _is_input(text: str) -> bool:
    return text.isascii() and text.isdigit() and len(text) <= 10 and int(text) <= _MAX_INPUT


def _bytes_of(t: float, link: str, reason: str, coded: str) -> bytes:
    try:
        return b64decode(coded, validate=True)
    except (binascii.Error, ValueError):
        raise _UnreadableError(
            "The rejected bytes are not written in base64; they were kept as they stand.",
            "Leave the line as it was captured.",
            Rejected(t, link, reason, coded.encode("utf-8")),
        ) from None
