"""Bytes from any wire become board lines or typed rejects: no port, no clock, no thread in here.

Rule: whatever the bytes and however they are cut into chunks, `Parser.feed` gives the same answer, never raises, and holds
no more than one line's worth of them. A line counts only with its checksum right; the rest is a `Reject` that says why.

The checksum is one XOR byte, as contracted: it catches every change of a single byte and lets about 1 in 256 of random
damage through. It cannot see two bytes that have changed places.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import reduce
from operator import xor

from bridge.wire.lines import Again, Alive, Ask, BoardLine, Edge, Hello, Line, Reject, RejectReason, Report, State, Watch

MAX_LINE_BYTES = 120
"""The longest line, its line end (LF or CR LF) not counted."""

_KEPT_BYTES = MAX_LINE_BYTES + 1  # a CR may stand behind the longest line, so one byte more proves nothing yet
_MAX_NUMBER = 0xFFFF_FFFF

_is_board = re.compile(rb"[a-z0-9-]{1,16}").fullmatch
_is_value = re.compile(rb"on|off|tag=(?:[0-9A-F]{2}){2,10}").fullmatch
_is_edge = re.compile(rb"on|off").fullmatch
_extra = re.compile(rb"([!-)+-<>-~]+)=([!-)+-~]+)").fullmatch  # printable, no space, no "*"; the key ends at the first "="
_is_sum = re.compile(rb"\*[0-9A-Fa-f]{2}").fullmatch

Fields = Sequence[bytes]


class _BadFieldError(Exception):
    """A field is not what its place in the line asks for; becomes a `Reject` before it leaves this module."""


def checksum(body: bytes) -> int:
    """XOR of every byte of the body, 0 to 255 (the sum of NMEA 0183, which leaves its "$" out as we have none)."""
    return reduce(xor, body, 0)


def is_board_name(text: str) -> bool:
    """Whether a board may be called so: 1 to 16 of a-z, 0-9 and "-"."""
    return text.isascii() and _is_board(text.encode("ascii")) is not None


def is_value(text: str) -> bool:
    """Whether an input can have this value: "on", "off" or "tag=" with 4 to 20 upper-case hexadecimal digits, in pairs."""
    return text.isascii() and _is_value(text.encode("ascii")) is not None


def parse_line(raw: bytes) -> Line | Reject:
    """Judge one line without its LF (a CR at its end is tolerated). Never raises."""
    line = raw[:-1] if raw.endswith(b"\r") else raw
    if len(line) > MAX_LINE_BYTES:
        return Reject(RejectReason.TOO_LONG, raw[:_KEPT_BYTES])
    if not line.isascii():
        return Reject(RejectReason.NOT_ASCII, raw)
    body = line[:-3]
    if _is_sum(line[-3:]) is None:
        return Reject(RejectReason.NO_SUM, raw)
    if checksum(body) != int(line[-2:], 16):
        return Reject(RejectReason.BAD_SUM, raw)
    word, *fields = body.split(b" ")
    read = _WORDS.get(word)
    if read is None:
        return Reject(RejectReason.UNKNOWN_WORD, raw)
    try:
        return read(fields)
    except _BadFieldError:
        return Reject(RejectReason.BAD_FIELD, raw)


def parse_board_line(raw: bytes) -> BoardLine | Reject:
    """As `parse_line`, on a wire where boards speak: the words that only the host says are unknown there."""
    line = parse_line(raw)
    if isinstance(line, Ask | Again | Watch):
        return Reject(RejectReason.UNKNOWN_WORD, raw)
    return line


class Parser:
    """Cuts a stream of bytes into lines and judges each. One for every opened port: old bytes are no part of a new line."""

    def __init__(self) -> None:
        self._cutter = _Cutter()

    def feed(self, data: bytes) -> list[Line | Reject]:
        """What these bytes complete, in order. A line that grows too long is rejected once, and skipped up to its LF."""
        return [parse_line(raw) for raw in self._cutter.feed(data)]

    def finish(self) -> list[Line | Reject]:
        """The wire has ended: judge what stands without its LF, if anything does, and begin anew."""
        return self.feed(b"\n")


class BoardParser:
    """As `Parser`, on a wire where boards speak."""

    def __init__(self) -> None:
        self._cutter = _Cutter()

    def feed(self, data: bytes) -> list[BoardLine | Reject]:
        """As `Parser.feed`."""
        return [parse_board_line(raw) for raw in self._cutter.feed(data)]

    def finish(self) -> list[BoardLine | Reject]:
        """As `Parser.finish`."""
        return self.feed(b"\n")


class _Cutter:
    """Cuts bytes at LF. Of a run that is too long for a line only as much comes out as shows that it is too long."""

    def __init__(self) -> None:
        self._held = b""
        self._skipping = False

    def feed(self, data: bytes) -> list[bytes]:
        *ended, rest = (self._held + data).split(b"\n")
        if self._skipping and ended:
            self._skipping = False
            del ended[0]
        cut = [raw for raw in ended if raw not in (b"", b"\r")]  # an empty line says nothing
        if self._skipping:
            rest = b""
        elif len(rest) > _KEPT_BYTES:
            cut.append(rest[: _KEPT_BYTES + 1])
            rest, self._skipping = b"", True
        self._held = rest
        return cut


def _number(field: bytes, least: int = 0) -> int:
    """A decimal number without a sign, 32 bits at most."""
    if field.isdigit() and len(field) <= 10:
        number = int(field)
        if least <= number <= _MAX_NUMBER:
            return number
    raise _BadFieldError


def _text(field: bytes, fits: Callable[[bytes], object]) -> str:
    if not fits(field):
        raise _BadFieldError
    return field.decode("ascii")


def _extras(fields: Fields) -> tuple[tuple[str, str], ...]:
    pairs = [_extra(field) for field in fields]
    if None in pairs:
        raise _BadFieldError
    return tuple((pair[1].decode("ascii"), pair[2].decode("ascii")) for pair in pairs if pair)


def _count(fields: Fields, least: int, most: int | None = None) -> None:
    if len(fields) < least or len(fields) > (least if most is None else most):
        raise _BadFieldError


def _hello(fields: Fields) -> Hello:
    _count(fields, 4, MAX_LINE_BYTES)
    board, boot, ms, inputs, *extra = fields
    if not inputs.startswith(b"inputs="):
        raise _BadFieldError
    return Hello(_text(board, _is_board), _number(boot), _number(ms), _number(inputs[7:]), _extras(extra))


def _alive(fields: Fields) -> Alive:
    _count(fields, 4, MAX_LINE_BYTES)
    board, boot, seq, ms, *extra = fields
    return Alive(_text(board, _is_board), _number(boot), _number(seq), _number(ms), _extras(extra))


def _report(fields: Fields) -> Report:
    return Report(*_numbered(fields))


def _state(fields: Fields) -> State:
    return State(*_numbered(fields))


def _numbered(fields: Fields) -> tuple[str, int, int, int, int, str]:
    _count(fields, 6)
    board, boot, seq, ms, number, value = fields
    return (
        _text(board, _is_board),
        _number(boot),
        _number(seq, least=1),
        _number(ms),
        _number(number),
        _text(value, _is_value),
    )


def _edge(fields: Fields) -> Edge:
    _count(fields, 5)
    board, boot, us, number, value = fields
    return Edge(_text(board, _is_board), _number(boot), _number(us), _number(number), _text(value, _is_edge))


def _ask(fields: Fields) -> Ask:
    _count(fields, 0)
    return Ask()


def _again(fields: Fields) -> Again:
    _count(fields, 3)
    boot, first, last = fields
    return Again(_number(boot), _number(first), _number(last))


def _watch(fields: Fields) -> Watch:
    _count(fields, 2)
    number, seconds = fields
    return Watch(_number(number), _number(seconds))


_WORDS: dict[bytes, Callable[[Fields], Line]] = {
    b"hello": _hello,
    b"alive": _alive,
    b"report": _report,
    b"state": _state,
    b"edge": _edge,
    b"ask": _ask,
    b"again": _again,
    b"watch": _watch,
}
