"""The report: one page that holds the whole session, for reading on a phone or printing.

Rule: it stands alone (no script, nothing from elsewhere), says first what matters most, and shows every statement with the
lines of the journal it rests on.
"""

from __future__ import annotations

from collections import Counter
from xml.etree.ElementTree import Element

from bridge.audit.account import Account
from bridge.audit.chapters_closing import write_boards, write_corrected, write_operators, write_register, write_whereabouts
from bridge.audit.chapters_running import write_irregularities, write_moves, write_trains
from bridge.audit.irregularities import LEVELS, IrregularityTold, every, irregularities
from bridge.audit.moves import MoveTold, moves
from bridge.audit.names import ON_TIME_S, Names, lateness
from bridge.audit.page import finish, put, start
from bridge.audit.tables import UNTOLD
from bridge.audit.workings import TrainTold, behind_s, trains
from bridge.wire.records import Said


def report_html(account: Account) -> str:
    """The session's report as one HTML page."""
    names, plant = Names(account.railway), account.railway.plant
    items, ran, booked = irregularities(account), trains(account), moves(account)
    root, main = start(f"{plant.name or plant.id}: the session afterwards")
    put(main, "p", f"Account of the session of {account.day.isoformat()}" if account.day else "Account of a session", "soft")
    put(main, "h1", plant.name or plant.id)
    put(main, "p", _span(account))
    _in_short(main, account, items, ran, booked)
    links = put(main, "nav")
    write_irregularities(main, account, items)
    write_trains(main, names, ran, booked)
    write_moves(main, account, names, booked)
    write_whereabouts(main, account, names)
    write_corrected(main, account, names)
    write_operators(main, account)
    write_boards(main, account)
    write_register(main, account, names)
    for section in main.iter("section"):
        put(links, "a", section[0].text or "").set("href", f"#{section.get('id')}")
    return finish(root)


def _span(account: Account) -> str:
    """From when to when, by the session clock and in real minutes."""
    clocks = [row["clock"] for row in account.outcomes if row["clock"] is not None]
    if not clocks:
        return "No session was begun."
    words = [journalled.record.words.split() for journalled in account.records if isinstance(journalled.record, Said)]
    real_s = account.outcomes[-1]["t"] - account.outcomes[0]["t"]
    took = f"{max(1, round(real_s / 60))} real minutes"
    closing = "" if ["end"] in words else " It was not ended: this is how things stood at the last line of the journal."
    return f"From {clocks[0]} to {clocks[-1]} by the session clock, {took}.{closing}"


def _in_short(
    main: Element,
    account: Account,
    items: tuple[IrregularityTold, ...],
    ran: tuple[TrainTold, ...],
    booked: tuple[MoveTold, ...],
) -> None:
    listed = put(main, "ul", kind="short")
    for line in (_trains_short(ran), _moves_short(booked), _wrong_short(items), _corrected_short(account)):
        put(listed, "li", line)


def _trains_short(ran: tuple[TrainTold, ...]) -> str:
    seen = [train for train in ran if any(stop.arrived or stop.departed for stop in train.stops)]
    late = [(behind, train.id) for train in seen for stop in train.stops if (behind := behind_s(stop)) is not None]
    words = f"{len(seen)} of {len(ran)} trains were seen to run."
    if late and max(late)[0] >= ON_TIME_S:
        words += f" The latest was {max(late)[1]}, {lateness(max(late)[0])}."
    elif late:
        words += " None was late."
    return words


def _moves_short(booked: tuple[MoveTold, ...]) -> str:
    if not booked:
        return "No moves were booked."
    counts = Counter(move.words for move in booked)
    return f"{len(booked)} moves were booked: {', '.join(f'{count} {words}' for words, count in counts.most_common())}."


def _wrong_short(items: tuple[IrregularityTold, ...]) -> str:
    held = [item for item in every(items) if item.withdrawn is None]
    if not held:
        return "Nothing was found to be wrong."
    counts = Counter(item.level for item in held)
    ends = sum(item.ended is None for item in held)
    said = ", ".join(f"{counts[level]} {level}{'' if counts[level] == 1 else 's'}" for level in LEVELS if counts[level])
    return f"Found to be wrong: {said}. {ends if ends else 'None'} still open at the end."


def _corrected_short(account: Account) -> str:
    count = sum(account.by_number[n]["says"] not in UNTOLD for n in account.corrections)
    if not count:
        return "No statement had to be corrected."
    return f"{count} {'statement was' if count == 1 else 'statements were'} corrected; they are struck through below."
