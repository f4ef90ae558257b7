"""What well-formed lines and records look like, for Hypothesis: `st.from_type(Hello)` and its like follow the contract."""

from __future__ import annotations

import string

from hypothesis import strategies as st

from bridge.wire import lines, records

MAX_NUMBER = 2**32 - 1
PRINTABLE = [chr(code) for code in range(0x21, 0x7F) if chr(code) != "*"]

number = st.integers(0, MAX_NUMBER)
counted = st.integers(1, MAX_NUMBER)
board = st.text(string.ascii_lowercase + string.digits + "-", min_size=1, max_size=16)
tag = st.integers(2, 10).flatmap(lambda pairs: st.text("0123456789ABCDEF", min_size=2 * pairs, max_size=2 * pairs))
level = st.sampled_from(["on", "off"])
value = level | tag.map("tag={}".format)
key = st.text([char for char in PRINTABLE if char != "="], min_size=1, max_size=6)
text = st.text(PRINTABLE, min_size=1, max_size=8)
extra = st.lists(st.tuples(key, text), max_size=3).map(tuple)
seconds = st.integers(0, 10**12).map(lambda micros: round(micros / 1e6, 6))
word = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zs", "Zl", "Zp"]), min_size=1, max_size=20)
link = word.filter(lambda name: not name.startswith(("operator", "#")) and name != "host")
words = st.lists(word, min_size=1, max_size=6).map(" ".join)
reason = st.sampled_from(list(lines.RejectReason)).map(lambda reason: reason.value)

st.register_type_strategy(lines.Hello, st.builds(lines.Hello, board, number, number, number, extra))
st.register_type_strategy(lines.Alive, st.builds(lines.Alive, board, number, number, number, extra))
st.register_type_strategy(lines.Report, st.builds(lines.Report, board, number, counted, number, number, value))
st.register_type_strategy(lines.State, st.builds(lines.State, board, number, counted, number, number, value))
st.register_type_strategy(lines.Edge, st.builds(lines.Edge, board, number, number, number, level))
st.register_type_strategy(lines.Again, st.builds(lines.Again, number, number, number))
st.register_type_strategy(lines.Watch, st.builds(lines.Watch, number, number))

board_line = st.from_type(lines.BoardLine)  # type: ignore[arg-type]
st.register_type_strategy(records.Received, st.builds(records.Received, seconds, link, board_line))
st.register_type_strategy(records.Rejected, st.builds(records.Rejected, seconds, link, reason, st.binary(max_size=130)))
st.register_type_strategy(records.Opened, st.builds(records.Opened, seconds, link))
st.register_type_strategy(records.Closed, st.builds(records.Closed, seconds, link))
st.register_type_strategy(records.BoardUp, st.builds(records.BoardUp, seconds, link, board))
st.register_type_strategy(records.BoardDown, st.builds(records.BoardDown, seconds, link, board))
st.register_type_strategy(records.Reading, st.builds(records.Reading, seconds, link, board, number, value))
st.register_type_strategy(records.HostStarted, st.builds(records.HostStarted, seconds))
st.register_type_strategy(records.HostStopped, st.builds(records.HostStopped, seconds))
st.register_type_strategy(records.Said, st.builds(records.Said, seconds, st.none() | word, words))
