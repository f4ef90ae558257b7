"""Sessions that have ended, as the folder's handing over is given them: made by hand, no core behind them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from bridge.core.plan import Railway
from bridge.folder import read
from bridge.folder.handover import Ended

RAILWAY = Path(__file__).parents[2] / "recordings" / "railway"
FILES = ("railway.toml", "stock.csv", "whereabouts.csv", "timetable.csv", "moves.csv")


def files(folder: Path = RAILWAY) -> dict[str, bytes]:
    """The files of a railway folder."""
    return {name: (folder / name).read_bytes() for name in FILES if (folder / name).exists()}


def railway_of(texts: Mapping[str, bytes]) -> Railway:
    found = read(texts)
    assert found.railway is not None, found.findings
    return found.railway


def lay_out(folder: Path, texts: Mapping[str, bytes]) -> Path:
    """A folder with these files."""
    folder.mkdir(exist_ok=True)
    for name, content in texts.items():
        (folder / name).write_bytes(content)
    return folder


def closed(
    texts: Mapping[str, bytes],
    places: Mapping[str, tuple[str, int] | str] | None = None,
    states: Iterable[str] | None = None,
    sure: Mapping[str, float] | None = None,
    to_come: Iterable[str] = (),
) -> dict[str, Any]:
    """A closing snapshot as far as it is read: all stands as in the files, but `places` (a place with its order, or `off`);
    moves have these `states`, workings `to_come` calls before them."""
    railway = railway_of(texts)
    at: dict[str, tuple[str, int | None]] = {s.vehicle: (s.place, s.order) for s in railway.standing}
    for vehicle, place in (places or {}).items():
        at[vehicle] = ("off", None) if isinstance(place, str) else place
    vehicles = {
        vehicle.id: {
            "painted": vehicle.painted,
            "place": at.get(vehicle.id, ("off", None))[0],
            "order": at.get(vehicle.id, ("off", None))[1],
            "sure": (sure or {}).get(vehicle.id, 1.0),
            "by": "seen",
        }
        for vehicle in railway.stock.values()
    }
    states = list(states) if states is not None else ["done"] * len(railway.moves)
    moves = [
        {"vehicle": m.vehicle, "from": m.from_road, "to": m.to_road, "working": m.working, "state": state}
        for m, state in zip(railway.moves, states, strict=True)
    ]
    calls = {True: [{"state": "done"}, {"state": "to-come"}], False: [{"state": "done"}]}
    trains = [{"id": working, "calls": calls[working in to_come]} for working in railway.workings]
    return {"vehicles": vehicles, "moves": moves, "trains": trains}


def ended(texts: Mapping[str, bytes], *told: Any, **how: Any) -> Ended:
    """A session under these files that ended as `closed` has it, and what was told by eye since."""
    return Ended(1, texts, closed(texts, **how), told)
