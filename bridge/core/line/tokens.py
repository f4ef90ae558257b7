"""Tokens and grants as they are kept: where each token lies or who has it, and who has which authority.

Rule: kept by `bridge.core.line.authority` alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(slots=True)
class Token:
    """The token or staff of one section: the station where it lies, or the train that has it, or neither (just lifted).
    `shunter`: the train that has laid it down where it had lifted it, until it is laid down elsewhere."""

    station: str | None = None
    holder: str | None = None
    assumed: bool = True
    lifted_at: str | None = None
    given: bool = False
    shunter: str | None = None
    since_n: int | None = None


@dataclass(slots=True)
class Grant:
    """One train's authority for one section."""

    how: str
    t: float


@dataclass(frozen=True, slots=True)
class Asked:
    """A ticket that was told for a train, by journal number `n`, and refused."""

    train: str
    t: float
    n: int


@dataclass
class Authorities:
    """Tokens by section, grants by section and train, how each section was last proved clear, and what each rest has said
    last: "off", or the tag that lies there. `asked`: the last ticket of each section that was refused."""

    tokens: dict[str, Token] = field(default_factory=dict)
    grants: dict[str, dict[str, Grant]] = field(default_factory=dict)
    proof: dict[str, str] = field(default_factory=dict)
    rests: dict[str, str] = field(default_factory=dict)
    asked: dict[str, Asked] = field(default_factory=dict)
