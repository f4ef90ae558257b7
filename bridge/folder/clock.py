"""Times as a message names them.

Rule: as people write them in the timetable, seconds only where there are any.
"""

from __future__ import annotations

import math

from bridge.core.plan import Call


def clock(t_s: float) -> str:
    """Session seconds as HH:MM; past midnight they go on."""
    whole = int(t_s)
    text = f"{whole // 3600:02}:{whole // 60 % 60:02}"
    return f"{text}:{whole % 60:02}" if whole % 60 else text


def when(call: Call) -> str:
    """When a working is at a call, to stand behind its name: " (19:30)", and nothing where no time is given."""
    at_s = call.arrive_s if call.arrive_s is not None else call.depart_s
    return "" if at_s is None else f" ({clock(at_s)})"


def span(from_s: float, to_s: float) -> str:
    """From when to when, to stand behind a name: " from 19:05 to 19:11"; what is infinite is left out."""
    if math.isinf(to_s):
        return " all evening" if math.isinf(from_s) else f" from {clock(from_s)} on"
    return f" until {clock(to_s)}" if math.isinf(from_s) else f" from {clock(from_s)} to {clock(to_s)}"
