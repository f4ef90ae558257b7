"""The chapters on the running: what went wrong, what each train did, what became of each move.

Rule: a chapter only lays out what the account says; it judges nothing.
"""

from __future__ import annotations

from xml.etree.ElementTree import Element

from bridge.audit.account import Account, hms
from bridge.audit.irregularities import IrregularityTold, by_kind
from bridge.audit.moves import MoveTold
from bridge.audit.names import Names, lateness
from bridge.audit.page import Cell, chapter, evidence, put, table
from bridge.audit.workings import Stop, TrainTold, time_of

VERDICT = {"real": "real", "false": "a false alarm", "mine": "their own doing"}


def write_irregularities(main: Element, account: Account, items: tuple[IrregularityTold, ...]) -> None:
    """What went wrong, dangers first, each with its evidence and what followed from it."""
    held = chapter(main, "wrong", "What went wrong")
    if not items:
        put(held, "p", "Nothing was found to be wrong.")
        return
    for item in items:
        _irregularity(held, account, item)
    put(held, "h3", "Counted by kind")
    labels = ("kind", "said", "taken back", *(f"judged {words}" for words in VERDICT.values()))
    counts = by_kind(account, items)
    table(held, labels, [[r.kind, *(str(n or "") for n in (r.said, r.withdrawn, r.real, r.false, r.mine))] for r in counts])


def _irregularity(parent: Element, account: Account, item: IrregularityTold) -> None:
    last = item.last
    box = put(parent, "article", kind=item.level)
    line = put(box, "p")
    put(line, "span", item.level, "level").tail = " · "
    wording = put(line, "del" if item.withdrawn else "strong", str(last["text"] or last["kind"]))
    wording.tail = f"  ({last['kind']})"
    put(box, "p", _course(account, item), "soft")
    if item.withdrawn is not None:
        why = f": {item.withdrawn.why}" if item.withdrawn.why else ""
        put(box, "p", f"Taken back (number {item.withdrawn.by}){why}. It was not so.")
    elif last["do"]:
        put(box, "p", f"To do: {last['do']}")
    if last["explained"]:
        put(box, "p", f"Explained: {last['explained']}")
    if item.id in account.verdicts:
        verdict = account.verdicts[item.id]
        put(box, "p", f"Somebody's verdict: {VERDICT.get(verdict, verdict)}")
    if last["because"]:
        put(box, "p", f"Rests on: {', '.join(str(thing) for thing in last['because'])}", "soft")
    evidence(box, item.evidence, account.lines)
    if item.followed:
        put(box, "p", "From this followed:")
    for followed in item.followed:
        _irregularity(box, account, followed)


def _course(account: Account, item: IrregularityTold) -> str:
    begun = account.happened_clock(item.begun) or "before the clock ran"
    if item.withdrawn is not None:
        return f"Said at {begun}, {item.id}"
    if item.ended is not None:
        return f"From {begun} to {account.happened_clock(item.ended) or 'an unknown time'}, {item.id}"
    return f"From {begun}, still open when the account closed, {item.id}"


def write_trains(main: Element, names: Names, told: tuple[TrainTold, ...], moves: tuple[MoveTold, ...]) -> None:
    """What each train did, call by call, and the moves that were its."""
    held = chapter(main, "trains", "What each train did")
    if not told:
        put(held, "p", "No train was booked and none ran.")
    for train in told:
        put(held, "h3", f"{train.id} ({train.kind})" if train.kind else f"{train.id} (not booked)")
        about = f"Engine {names.vehicle(train.engine)}"
        if not any(stop.arrived or stop.departed for stop in train.stops):
            about += ". It was not seen to run."
        put(held, "p", about, "soft")
        labels = ("station", "road", "arrival booked", "arrived", "departure booked", "departed")
        table(held, labels, [_stop(names, stop) for stop in train.stops])
        own = [move for move in moves if move.train == train.id]
        if own:
            listed = put(held, "ul")
            for move in own:
                put(listed, "li", f"{_from_to(names, move)}: {move.words}")


def _stop(names: Names, stop: Stop) -> list[Cell]:
    booked = stop.booked
    road = names.place(stop.road).rpartition(", ")[2]
    if booked is None:
        road += " (not booked)"
    elif stop.road is None:
        road = f"booked: {names.place(booked.road).rpartition(', ')[2]}"
    elif stop.road != booked.road:
        road += f" (booked: {names.place(booked.road).rpartition(', ')[2]})"
    return [
        names.station(stop.station),
        road,
        _booked(booked.arrive_s if booked else None),
        _seen(stop.arrived, stop.arrived_late_s),
        _booked(booked.depart_s if booked else None),
        _seen(stop.departed, stop.departed_late_s),
    ]


def _booked(booked_s: float | None) -> str:
    return "" if booked_s is None else time_of(hms(booked_s))


def _seen(clock: str | None, late_s: float | None) -> str:
    words = lateness(late_s)
    return f"{time_of(clock)} ({words})" if clock and words else time_of(clock)


def write_moves(main: Element, account: Account, names: Names, told: tuple[MoveTold, ...]) -> None:
    """What became of every booked move."""
    held = chapter(main, "moves", "What became of every move")
    if not told:
        put(held, "p", "No move was booked.")
        return
    rows: list[list[Cell]] = []
    for move in told:
        proof = list(move.last["evidence"]) if move.last is not None else []
        end = _ended(account, move, proof)
        where = (names.place(move.move.from_road), names.place(move.move.to_road))
        rows.append([names.vehicle(move.move.vehicle), *where, move.train or "any", move.move.load, end])
    table(held, ("vehicle", "from", "to", "train", "load", "what became of it"), rows)


def _ended(account: Account, move: MoveTold, proof: list[int]) -> Cell:
    def fill(field: Element) -> None:
        field.text = move.words
        evidence(field, proof, account.lines)

    return fill


def _from_to(names: Names, move: MoveTold) -> str:
    return f"{names.vehicle(move.move.vehicle)} from {names.place(move.move.from_road)} to {names.place(move.move.to_road)}"
