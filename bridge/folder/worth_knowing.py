"""What is not wrong and still worth knowing before the evening begins, and files that are not there.

Rule: a missing file is a fault only where another refers to what should stand in it.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.core.plan import Railway
from bridge.core.plant import Detector, DetectorKind, Plant
from bridge.folder.finding import Findings, Spot, listed
from bridge.folder.places import Places

LACKS = {
    "stock.csv": (
        "no vehicle is known, by name or by tag",
        "vehicle,kind,class,painted,length,tags,detected,tail,home,notes",
    ),
    "whereabouts.csv": ("nobody knows where vehicles stand", "vehicle,road,order"),
    "timetable.csv": ("no train is booked", "working,kind,engine,station,road,arrive,depart,rake,wait_for"),
    "moves.csv": ("no freight move is booked", "vehicle,from,to,working,call,load,notes"),
}


def tell_missing_file(file: str, there: bool, needed_by: Iterable[str], findings: Findings) -> None:
    """A file that is not there (or, where it is `there`, is empty), and which files refer to it."""
    lack, header = LACKS[file]
    what = "is empty" if there else "is not in this folder"
    spot, others = Spot(file, 1, 1, ""), listed(needed_by)
    if others == "(none)":
        findings.advice(spot, f"{file} {what}: {lack}.", f"When you want it, begin it with the header row {header}.")
    else:
        remedy = f"Write it, beginning with the header row {header}."
        findings.fault(spot, f"{file} {what}: {lack}, and {others} refers to it.", remedy)


def tell_worth_knowing(railway: Railway, places: Places, has_broker: bool) -> None:
    """Advice that holds plant, stock and plan against each other."""
    _stand_nowhere(railway, places)
    _named_alike(railway, places)
    _in_sections(railway, places)
    _without_side(railway.plant, places)
    if not has_broker:
        _without_broker(railway.plant, places)


def _stand_nowhere(railway: Railway, places: Places) -> None:
    if not places.whereabouts_read:
        return
    nowhere = [vehicle for vehicle in railway.stock if ("standing", vehicle) not in places.spots]
    if nowhere:
        message = f"Of the vehicles in stock.csv these stand nowhere: {listed(nowhere)}."
        places.findings.advice(
            Spot("whereabouts.csv", 1, 1, ""), message, "Nothing is wrong while they are off the railway."
        )


def _named_alike(railway: Railway, places: Places) -> None:
    for name in railway.workings:
        if name in railway.stock:
            message = f'A working and a vehicle are both called "{name}": a train named so could be either.'
            places.findings.advice(places.spots["working", name], message, "Give one of them another id.")


def _in_sections(railway: Railway, places: Places) -> None:
    """A vehicle left out on the line, where a train is booked."""
    booked: dict[str, str] = {}
    for working in railway.workings.values():
        for here, then in zip(working.calls, working.calls[1:], strict=False):
            section = railway.plant.section_between(here.station, then.station)
            if section is not None:
                booked.setdefault(section.id, working.id)
    for standing in railway.standing:
        place = standing.place
        if place in booked:
            spot = places.spots["standing", standing.vehicle]
            message = f"{standing.vehicle} stands in section {place}, into which working {booked[place]} is booked."
            places.findings.conflict(spot, message, "Stand it on a road, or correct the row.")


def _without_side(plant: Plant, places: Places) -> None:
    """Two detectors of one sort at one boundary prove the direction only where each has its side."""
    found: dict[tuple[str | None, ...], list[Detector]] = {}
    for detector in plant.detectors.values():
        if detector.kind in (DetectorKind.TREADLE, DetectorKind.READER) and detector.at is not None:
            found.setdefault((detector.at, detector.kind, detector.sees), []).append(detector)
    for (at, kind, _), detectors in found.items():
        sides = [detector.side for detector in detectors]
        if len(detectors) > 1 and (None in sides or len(set(sides)) < 2):
            message = f"The {kind}s {listed(d.id for d in detectors)} at {at} do not say on which side each stands."
            remedy = 'With `side = "up"` and `side = "down"` the order in which they fire proves the direction.'
            places.findings.advice(places.spots["detector", detectors[-1].id], message, remedy)


def _without_broker(plant: Plant, places: Places) -> None:
    for board in plant.boards.values():
        if board.link == "mqtt":
            message = f"Board {board.id} speaks over MQTT, and there is no [broker] table."
            places.findings.advice(places.spots["board", board.id], message, "Add one, or start with `--broker HOST:PORT`.")
            return
