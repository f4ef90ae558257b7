"""One section, one train: section clashes, entries without authority, and entries by a closed end.

Sources: not more than one train in a block section on the same line at once (LNER Regulations 1009/1, Absolute Block); a
driver enters a token section only with the token (check values 6.1, 6.6). Rule: judged from entries as they happened; the
clash is the cause, the missing authority of the same entry follows from it, and the clash with vehicles that a divided train
has left, or that have run away, follows from that.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.ledger import Claim
from bridge.core.readings import called

if TYPE_CHECKING:
    from bridge.core.facts import Entry
    from bridge.core.state import State


def claims(state: State, section: str) -> list[Claim]:
    """What is wrong with the entries into one section that still stand."""
    found: list[Claim] = []
    for entry in state.entries.get(section, ()):
        if not entry.is_plain:
            continue
        clash = _clash(state, entry)
        if clash is not None:
            found.append(clash)
        if not entry.authorised:
            found.append(_no_authority(state, entry, clash))
        if entry.way:
            found.append(_wrong_direction(entry))
    return found


def _clash(state: State, entry: Entry) -> Claim | None:
    others = tuple(dict.fromkeys(t for t in entry.others if _still_in(state, entry.section, t)))
    if entry.others and not others and not entry.stranded:
        return None
    if not entry.others and not entry.stranded:
        return None
    trains = sorted({entry.train, *entry.others})
    if entry.others:
        met = " and ".join(entry.others)
        text = f"{entry.train} has gone into {entry.section} while {met} is there."
    else:
        names = [called(state, v) for v in entry.stranded if state.railway is not None and v in state.railway.stock]
        left, verb = ", ".join(names) or "something", "stand" if len(names) > 1 else "stands"
        text = f"{entry.train} has gone into {entry.section}, where {left} {verb}."
    return Claim(
        "section-clash",
        f"clash:{entry.cause}",
        {"section": entry.section, "train": entry.train, "trains": trains},
        text,
        f"Stop both now. Agree who sets back, and clear {entry.section} before anything moves again.",
        because=tuple(entry.stranded),
        evidence=() if entry.n is None else (entry.n,),
        follows=_left_by(state, entry),
        happened=round(entry.t, 6),
    )


def _left_by(state: State, entry: Entry) -> str | None:
    """The cause of the division, or of the running away, by which vehicles stand where a train has gone in, be it to fetch
    them; None where it met another train."""
    for presence in state.presences.get(entry.section, ()):
        found = presence.short
        if found is not None and found.happened <= entry.t and not entry.others:
            return found.cause
    stray = state.astray.get(entry.section)
    return stray.cause if stray is not None and stray.t <= entry.t and not entry.others else None


def _still_in(state: State, section: str, train: str) -> bool:
    return any(p.train == train and p.cleared != "complete" for p in state.presences.get(section, ()))


def _no_authority(state: State, entry: Entry, clash: Claim | None) -> Claim:
    return Claim(
        "no-authority",
        f"authority:{entry.cause}",
        {"section": entry.section, "train": entry.train},
        f"{entry.train} has gone into {entry.section} without authority: {entry.why}.",
        f"Stop {entry.train}. Make sure that {entry.section} is clear, then give it the authority or set it back.",
        evidence=() if entry.n is None else (entry.n,),
        follows=clash.cause if clash is not None else _left_by(state, entry),
        happened=round(entry.t, 6),
    )


def _wrong_direction(entry: Entry) -> Claim:
    return Claim(
        "wrong-direction",
        f"direction:{entry.cause}",
        {"section": entry.section, "train": entry.train},
        f"{entry.train} has gone {entry.way} into {entry.section}, where no train may run {entry.way}.",
        f"Stop {entry.train}, and let nothing go into {entry.section} from its other end. Set {entry.train} back out by the "
        "end where it went in.",
        evidence=() if entry.n is None else (entry.n,),
        happened=round(entry.t, 6),
    )
