"""Lines become the bytes that go on a wire.

Rule: what this writes, `parse_line` reads back as the same value.
"""

from __future__ import annotations

from bridge.wire.lines import Again, Alive, Ask, Edge, Hello, Line, Report, State, Watch
from bridge.wire.parser import checksum


def encode(line: Line) -> bytes:
    """The line as bytes, with its checksum (upper case) and LF."""
    body = body_of(line).encode("ascii")
    return b"%b*%02X\n" % (body, checksum(body))


def body_of(line: Line) -> str:
    """The line without "*", checksum and LF."""
    match line:
        case Hello(board, boot, ms, inputs, extra):
            return f"hello {board} {boot} {ms} inputs={inputs}{_pairs(extra)}"
        case Alive(board, boot, seq, ms, extra):
            return f"alive {board} {boot} {seq} {ms}{_pairs(extra)}"
        case Report(board, boot, seq, ms, number, value):
            return f"report {board} {boot} {seq} {ms} {number} {value}"
        case State(board, boot, seq, ms, number, value):
            return f"state {board} {boot} {seq} {ms} {number} {value}"
        case Edge(board, boot, us, number, value):
            return f"edge {board} {boot} {us} {number} {value}"
        case Ask():
            return "ask"
        case Again(boot, first, last):
            return f"again {boot} {first} {last}"
        case Watch(number, seconds):
            return f"watch {number} {seconds}"


def _pairs(extra: tuple[tuple[str, str], ...]) -> str:
    return "".join(f" {key}={text}" for key, text in extra)
