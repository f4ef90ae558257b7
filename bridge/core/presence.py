"""One train's stay in a section.

Rule: a presence begins when a train's first vehicle passes the section end, and ends when its last is proved out, or when
the train has come back from a shunt.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.core.facts import Short

NEAR_S = 15.0  # so long before it is seen to go out a train may have been there already: common practice, no source


@dataclass(slots=True)
class Presence:
    """One train's stay in a section. `start` and `out_at` are throats; `out_s` is `out_t` in session seconds, as the
    clock showed it then; `cleared` is None, "complete" or "incomplete".
    `passed_t`: the last sign at the section end where it comes out; `rake`: how it stood then, its rearmost first;
    `read_far`: the vehicles read there; `short`: it has come out without all of it; `told_t`: the last sign where it went in
    that was seen, not only reckoned; `anew_t`: the first such sign after a while of none;
    `goes_alone`: its rake was not known to be at the station as it departed."""

    train: str
    engine: str
    section: str
    start: str
    out_t: float
    n: int | None
    first: str
    last_sign_t: float
    cause: str
    out_s: float | None = None
    departed: bool = False
    out_at: str | None = None
    out_sign_t: float | None = None
    out_t_far: float | None = None
    told_clear: bool = False
    cleared: str | None = None
    cleared_n: int = 0
    passed_t: float | None = None
    rake: tuple[str, ...] = ()
    read_far: tuple[str, ...] = ()
    short: Short | None = None
    told_t: float = -1e9
    anew_t: float = -1e9
    goes_alone: bool = False
