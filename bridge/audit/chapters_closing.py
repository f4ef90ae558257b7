"""The closing chapters: where everything stands, what was corrected, what operators said, boards, and the register.

Rule: a corrected statement is struck through where it was made, with what stands instead beside it.
"""

from __future__ import annotations

from xml.etree.ElementTree import Element

from bridge.audit.account import Account, Row
from bridge.audit.boards import BoardHealth, LinkHealth, health
from bridge.audit.names import BY, Names, per_cent, surely
from bridge.audit.page import Cell, chapter, evidence, put, table
from bridge.audit.sentences import sentence
from bridge.audit.tables import UNTOLD, closing, register_rows
from bridge.wire.records import Said

VISIBLE_LOSS_S = 6.0


def write_whereabouts(main: Element, account: Account, names: Names) -> None:
    """Where everything stands, place by place in the order of the plant, each vehicle with how surely."""
    held = chapter(main, "where", "Where everything stands")
    last = closing(account)
    if not last:
        put(held, "p", "Nothing was said of where vehicles stand.")
        return
    plant = account.railway.plant
    known = (*plant.roads, *plant.throats, *plant.sections)
    places = [*known, *sorted({str(row["place"]) for row in last.values()} - set(known))]
    rows: list[list[Cell]] = []
    for place in places:
        here = [row for row in last.values() if row["place"] == place]
        for row in sorted(here, key=lambda row: (row["order"] or 0, row["vehicle"])):
            rows.append(_standing(account, names, row))
    table(held, ("place", "order", "vehicle", "train", "how sure", "known by"), rows)
    unnamed = [vehicle for vehicle in account.railway.stock if vehicle not in last]
    if unnamed:
        put(held, "p", f"Nothing was said of: {', '.join(names.vehicle(vehicle) for vehicle in unnamed)}.")


def _standing(account: Account, names: Names, row: Row) -> list[Cell]:
    def known_by(field: Element) -> None:
        field.text = BY.get(row["by"], str(row["by"]))
        evidence(field, row["evidence"], account.lines)

    place = names.place(row["place"])
    if row["fouls"]:
        place += f" (reaches into {', '.join(names.place(other) for other in row['fouls'])})"
    order = "" if row["order"] is None else str(row["order"])
    sure = surely(row["sure"], "there")
    return [place, order, names.vehicle(row["vehicle"]), row["train"] or "", f"{sure} ({per_cent(row['sure'])})", known_by]


def write_corrected(main: Element, account: Account, names: Names) -> None:
    """Every statement that was taken back, struck through, with what stands instead."""
    told = {n: what for n, what in account.corrections.items() if account.by_number[n]["says"] not in UNTOLD}
    if not told:
        return
    held = chapter(main, "corrected", "What was corrected")
    put(held, "p", "Late or better evidence showed that these statements did not hold.", "soft")
    rows: list[list[Cell]] = []
    for n, correction in told.items():
        struck = _struck(account, names, account.by_number[n], instead=False)
        instead = account.by_number.get(correction.instead or 0)
        stands = f"{correction.instead}: {sentence(instead, names)}" if instead else "nothing in its place"
        rows.append([str(n), struck, stands, correction.why])
    table(held, ("number", "was said", "stands now", "why"), rows)


def write_operators(main: Element, account: Account) -> None:
    """What people told, in order."""
    held = chapter(main, "told", "What operators said")
    rows: list[list[Cell]] = []
    for journalled in account.records:
        record = journalled.record
        if isinstance(record, Said):
            rows.append([str(journalled.n), account.clock_at(record.t) or "", record.who or "", record.words])
    if rows:
        table(held, ("journal", "clock", "who", "words"), rows)
    else:
        put(held, "p", "Nobody told anything.")


def write_boards(main: Element, account: Account) -> None:
    """How boards and links fared."""
    held = chapter(main, "boards", "How the boards fared")
    boards, links = health(account.railway.plant.boards, account.records)
    labels = ("board", "link", "lines", "starts", "longest silence", "lost for good", "came late", "came twice", "remark")
    table(held, labels, [_board(board) for board in boards])
    if links:
        table(held, ("link", "opened", "lost", "bytes that were no line"), [_link(link) for link in links])
    if account.host:
        put(held, "p", "Nothing in this account depends on the computer's own clock but the date at its head.", "soft")
        table(held, ("clock", "the computer"), [[account.clock_at(t) or "", text] for t, text in account.host])


def _board(board: BoardHealth) -> list[Cell]:
    remarks = []
    if not board.lines:
        remarks.append("not heard")
    if board.unnumbered:
        remarks.append("its reports carry no number: losses cannot be proved")
    if board.starts > 1:
        remarks.append(f"started again {board.starts - 1} times")
    remarks += [f"input {number} screamed: {lines:,} lines only counted" for number, lines in sorted(board.screamed.items())]
    if board.silence_s > VISIBLE_LOSS_S:
        remarks.append("was silent")
    counts = [str(count) for count in (board.missing, board.late, board.again)]
    silence = f"{board.silence_s:.1f} s" if board.lines > 1 else ""
    links = ", ".join(sorted(board.links))
    return [board.id, links, str(board.lines), str(board.starts), silence, *counts, "; ".join(remarks)]


def _link(link: LinkHealth) -> list[Cell]:
    reasons = ", ".join(f"{count} {reason}" for reason, count in sorted(link.rejected.items()))
    return [link.id, str(link.opened), str(link.lost), reasons or "none"]


def write_register(main: Element, account: Account, names: Names) -> None:
    """Everything that was said, in order; what was corrected is struck through."""
    held = chapter(main, "register", "The register")
    rows: list[list[Cell]] = []
    for what in register_rows(account):
        if isinstance(what, Said):
            who = f"{what.who}: " if what.who else "An operator: "
            rows.append(["", account.clock_at(what.t) or "", who + what.words])
        else:
            clock = account.happened_clock(what) or ""
            rows.append([str(what["n"]), clock, _struck(account, names, what, instead=True)])
    table(held, ("number", "clock", "what happened"), rows)


def _struck(account: Account, names: Names, row: Row, *, instead: bool) -> Cell:
    """A statement with its evidence, struck through where it was corrected; `instead`: with what stands now beside it."""
    correction = account.corrections.get(row["n"])

    def fill(field: Element) -> None:
        put(field, "span" if correction is None else "del", sentence(row, names))
        if correction is not None and instead:
            stands = account.by_number.get(correction.instead or 0)
            words = f"instead {correction.instead}: {sentence(stands, names)}" if stands else "nothing stands in its place"
            put(field, "p", f"Corrected by {correction.by}; {words}.", "soft")
        evidence(field, row["evidence"], account.lines)

    return fill
