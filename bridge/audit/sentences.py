"""Each outcome as one sentence of the register.

Rule: one plain sentence a row, in the words of the railway; a kind that this table does not know is shown with its keys.
"""

from __future__ import annotations

from collections.abc import Callable

from bridge.audit.account import Row
from bridge.audit.names import Names, lateness, surely

AUTHORITY = {"given": "given to", "returned": "returned by", "refused": "refused to"}
SESSION = {
    "started": "The session began",
    "ended": "The session ended",
    "stopped": "The clock was stopped",
    "going-on": "The clock went on",
}


def sentence(row: Row, names: Names) -> str:
    """What an outcome says."""
    say = SAY.get(row["says"])
    if say is not None:
        return say(row, names)
    keys = (f"{key} {value}" for key, value in row.items() if key not in {"n", "t", "clock", "says", "evidence"})
    return f"{row['says']}: {', '.join(keys)}"


def _late(row: Row) -> str:
    words = lateness(row["late"])
    return f", {words}" if words else ""


def _departed(row: Row, names: Names) -> str:
    return f"{row['train']} left {names.place(row['road']) or names.station(row['station'])}{_late(row)}"


def _arrived(row: Row, names: Names) -> str:
    booked = row["booked_road"]
    wrong = f" (booked: {names.place(booked)})" if booked and booked != row["road"] else ""
    return f"{row['train']} came to {names.place(row['road']) or names.station(row['station'])}{wrong}{_late(row)}"


def _entered(row: Row, names: Names) -> str:
    return f"{row['train']} went into {names.place(row['section'])}"


def _cleared(row: Row, names: Names) -> str:
    proof = "its last vehicle proved" if row["complete"] else "its last vehicle not proved"
    return f"{row['train']} came out of {names.place(row['section'])}, {proof}"


def _authority(row: Row, names: Names) -> str:
    place = names.place(row["section"])
    if row["train"] is None and row["why"] == "assumed":
        return f"Authority for {place} is assumed to lie where it is needed first"
    if row["train"] is None:
        return f"Authority for {place} lies at {names.station(row['why'])}"
    why = f": {row['why']}" if row["why"] else ""
    return f"Authority for {place} {AUTHORITY.get(row['state'], row['state'])} {row['train']}{why}"


def _lifted(row: Row, names: Names) -> str:
    said = f"{row['train']} lifted {names.vehicle(row['vehicle'])} from {names.place(row['road'])}"
    return surely(row["sure"], said) + ("" if row["booked"] else ", not booked")


def _set_out(row: Row, names: Names) -> str:
    said = f"{row['train']} set out {names.vehicle(row['vehicle'])} on {names.place(row['road'])}"
    return surely(row["sure"], said) + ("" if row["booked"] else ", not booked")


def _move(row: Row, names: Names) -> str:
    state = "in the train" if row["state"] == "in-train" else str(row["state"]).replace("-", " ")
    where = f"from {names.place(row['from'])} to {names.place(row['to'])}"
    return f"Move of {names.vehicle(row['vehicle'])} {where}: {surely(row['sure'], state)}"


def _irregularity(row: Row, names: Names) -> str:
    over = "Over: " if row["status"] == "ended" else ""
    explained = f" (explained: {row['explained']})" if row["explained"] else ""
    return f"{over}{row['text']}{explained}"


def _whereabouts(row: Row, names: Names) -> str:
    return surely(row["sure"], f"{names.vehicle(row['vehicle'])} stands at {names.place(row['place'])}")


def _session(row: Row, names: Names) -> str:
    return SESSION.get(row["state"], f"Session: {row['state']}")


def _corrected(row: Row, names: Names) -> str:
    why = f": {row['why']}" if row["why"] else ""
    return f"Number {row['of']} is no longer held true{why}"


SAY: dict[str, Callable[[Row, Names], str]] = {
    "departed": _departed,
    "arrived": _arrived,
    "entered": _entered,
    "cleared": _cleared,
    "authority": _authority,
    "lifted": _lifted,
    "set-out": _set_out,
    "move": _move,
    "irregularity": _irregularity,
    "whereabouts": _whereabouts,
    "session": _session,
    "corrected": _corrected,
}
