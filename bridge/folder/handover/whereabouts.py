"""whereabouts.csv written anew from where everything stands.

Rule: a row keeps its place in the file, and what else its owner wrote into it, as long as its vehicle stands anywhere; one
that is off the layout has no row; one that has none yet gets it behind the others.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from bridge.folder.handover.rows import Cells, paper
from bridge.folder.handover.standing import Standings, lines

COLUMNS = ("vehicle", "road", "order")


def whereabouts_csv(texts: Mapping[str, bytes], standing: Standings) -> bytes:
    """The new file of a folder with these files. The same bytes where nothing stands otherwise than its rows say."""
    old = paper("whereabouts", texts, COLUMNS)
    in_order = lines(standing)
    by_rows = "order" not in old.at
    rows: dict[str, Cells] = {}
    for row in old.rows:
        rows.setdefault(old.text(row, "vehicle"), row)
    here = [vehicle for line in in_order.values() for vehicle in line]
    wanted = [v for v in rows if v in set(here)] + [v for v in here if v not in rows]
    if by_rows:
        wanted = _as_they_stand(wanted, in_order.values(), standing)
    written = []
    for vehicle in wanted:
        stand = standing[vehicle]
        values = {"vehicle": vehicle, "road": stand.place, "order": str(stand.order)}
        if _says_so(old.text(rows.get(vehicle, old.blank()), "order"), stand.order):
            del values["order"]
        written.append(old.filled(rows.get(vehicle, old.blank()), values))
    if tuple(written) == old.rows and "whereabouts.csv" in texts:
        return texts["whereabouts.csv"]
    return old.written(written)


def _says_so(text: str, order: int) -> bool:
    """A number that its owner wrote in another way ("01") stays as it is."""
    return text.isascii() and text.isdigit() and int(text) == order


def _as_they_stand(wanted: Iterable[str], in_order: Iterable[list[str]], standing: Standings) -> list[str]:
    """Without a column for it the order of the rows is that on each place: each place's rows in its own order."""
    turns = {standing[line[0]].place: iter(line) for line in in_order}
    return [next(turns[standing[vehicle].place]) for vehicle in wanted]
