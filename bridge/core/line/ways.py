"""The ways of working a single-line section: what authorises a train to be in it, and what ends that.

Rule: tables of what the rule books say, with nothing of the moment in them; how they stand now is
`bridge.core.line.line_clear`'s and `bridge.core.line.authority`'s. An object (a token, a staff) is laid down to end its
authority; what was given on the state of the section ends with the train's stay there.

Sources, by the letter behind each row: F Findlay, Working and Management of an English Railway, p. 161; I Isle of Man
Railway rules of 1922, rule 87; W A. Williams, How It Works, on train staffs; L LNER Regulations 1009/1, Absolute Block;
T published descriptions of electric tokens; B BR 30062/1, track circuit block, 2.1; G GERT8000-TS4, 3.6.4, train out of
section; C driver-training cards (one-train working; who is exempt from carrying a token). N: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from bridge.core.plant import Section, SectionRule

OUT_OF_SECTION, SHUNTED_BACK, GIVEN_BACK, LAID_DOWN = "train out of section", "shunt", "told", "laid down"
"""What may end an authority: the train out of the section; back where it came from, having shunted; an operator who has
looked; its object laid down at either end."""


@dataclass(frozen=True, slots=True)
class Way:
    """One way of working. `thing`: the object that authorises, None where the section's own state does; `asked`: as what it
    goes where an operator gives it without saying how; `ends`: by how a train has its authority, what ends that."""

    thing: str | None
    asked: str
    ends: Mapping[str, frozenset[str]]


_STAY = frozenset({OUT_OF_SECTION, SHUNTED_BACK, GIVEN_BACK})  # L, G, N (a shunt)
_OBJECT = frozenset({LAID_DOWN, GIVEN_BACK})  # T, W, F; N (a shunt keeps it)
_TICKET = frozenset({OUT_OF_SECTION, GIVEN_BACK})  # F, I
_ASSISTING = frozenset({OUT_OF_SECTION, GIVEN_BACK})  # C

_BY_THE_SECTION = {"section": _STAY, "told": _STAY, "assisting": _ASSISTING}
WAYS: Mapping[SectionRule, Way] = MappingProxyType(
    {
        SectionRule.ONE_TRAIN: Way(None, "told", _BY_THE_SECTION),  # F, C
        SectionRule.TRACK_CIRCUIT: Way(None, "told", _BY_THE_SECTION),  # B
        SectionRule.TOKEN: Way("the token", "token", {"token": _OBJECT, "assisting": _ASSISTING}),  # T
        SectionRule.STAFF_AND_TICKET: Way(
            "the staff", "token", {"token": _OBJECT, "ticket": _TICKET, "assisting": _ASSISTING}
        ),  # W, F, I
    }
)
"""By the rule of a section, how it is worked."""


def way_of(section: Section) -> Way:
    """How a section is worked."""
    return WAYS[section.rule]


def worked_by_object(section: Section) -> bool:
    """True where an object, or its record, authorises a train."""
    return way_of(section).thing is not None
