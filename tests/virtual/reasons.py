"""Is a reason true? What a crew says it could not do, held against plant, plan and film at the instant at which it said so.

Rule: a reason is `true` where the figures and places in it are so, `false` where one is not, and `unjudged` where it speaks
of something that only the crews know (who has asked for what).
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from bridge.core.plan import Vehicle
from bridge.core.plant import Road
from bridge.virtual.crew.manner import MANNERS
from bridge.virtual.track import Track

from .grown import GrownEvening, Refused

STANDS_S = 120.0
MM = 1.5  # lengths are told in whole millimetres


@dataclass(frozen=True, slots=True)
class Judged:
    """A reason, its kind (its words with places and figures left out), and what it is."""

    text: str
    kind: str
    verdict: str


def judged(work: GrownEvening) -> list[Judged]:
    """Every reason of an evening."""
    found = []
    for reason in work.evening.scene.truth.reasons:
        text = re.sub(r"^not brought from \S+ to \S+: ", "", reason.text)
        found.append(Judged(str(reason), _kind(work, text), _Judge(work, reason.working, reason.vehicle).verdict(text)))
    return found


def _kind(work: GrownEvening, text: str) -> str:
    names = {**work.railway.plant.stations, **work.railway.plant.sections, **work.railway.workings}
    text = re.sub(r"\b[a-z0-9-]+\.[a-z0-9-]+\b", "ROAD", text)
    text = " ".join("NAME" if word.rstrip(",:") in names else word for word in text.split())
    return re.sub(r"\b\d+\b", "N", re.sub(r"\b[webc]\d+\b", "VEHICLE", text))


class _Judge:
    """Judges the reasons of one vehicle or working."""

    def __init__(self, work: GrownEvening, working: str | None, vehicle: str | None) -> None:
        self._work, self._plant = work, work.railway.plant
        self._working, self._vehicle = working, vehicle
        self._rules: list[tuple[str, Callable[..., bool | None]]] = [
            (r"(\S+) cannot run round its train on (\S+): no other road is free at both ends", self._no_road_round),
            (r"\S+ of (\d+) mm cannot run round its train on \S+: (\S+) has room for (\d+) mm", self._no_neck_round),
            (r"(\S+) cannot run round its train on (\S+), which is a dead end", self._dead_end),
            (r"no road is free at (\S+) for running round", self._no_road_free),
            (r"(\S+) has room for (\d+) mm behind the engine, and (\S+) with .* is (\d+) mm", self._neck_too_short),
            (r"(\S+) is too short to draw out all that stands before (\S+) on (\S+) at once, .*", self._too_much_before),
            (r"on (\S+) there is no room for (\S+): of (\d+) mm, (\d+) mm are taken", self._no_room),
            (r"with (\S+) the train would be (\d+) mm long, and (\S+) holds (\d+) mm", self._train_too_long),
            (r"no road at (\S+) holds (\d+) mm of train", self._no_road_holds),
            (r"(\d+) mm of train do not fit on (\S+?), where (\S+) stands", self._does_not_fit),
            (r"(\d+) mm of train do not fit on (\S+)", self._too_long_for),
            (r"no working calls at both stations, one after the other", self._no_working),
            (r"the move booked before it was not done", self._not_done_before),
            (r"(\S+) was not worked to the end", self._working_ended),
            (r"it was on (\S+) when \S+ came", self._was_elsewhere),
            (r"waited in vain: (.*)", self._all_stood),
            (r"from (\S+) no engine gets at (\S+)", self._not_at_one_end),
            (r"(\S+) is taken by (\S+), which does not go soon", self._taken_by),
            (r"it stands amid the train on (\S+), and no other road is free for the rest", self._no_other_home),
            (r"came in on (\S+), for on (\S+) (\S+) stands", lambda *_: None),
            (r"came in on (\S+), for the train is too long for (\S+)", lambda *_: None),
        ]

    def verdict(self, text: str) -> str:
        """What a reason is."""
        for pattern, judge in self._rules:
            if found := re.fullmatch(pattern, text):
                is_true = judge(self._work.refused.get(text), *found.groups())
                return "unjudged" if is_true is None else "true" if is_true else "false"
        return "unjudged"

    # -- what there is -------------------------------------------------------------------------------------------------

    def _both_ends(self, station: str) -> list[Road]:
        necks = {throat.headshunt for throat in self._plant.throats.values()}
        roads = (self._plant.roads[r] for r in self._plant.stations[station].roads)
        return [road for road in roads if len(road.open) == 2 and road.id not in necks]

    def _vehicle_of(self, id_: str) -> Vehicle:
        return self._work.railway.stock[id_]

    def _mm(self, road: str) -> float:
        return self._plant.roads[road].length_mm

    def _least_engine_mm(self) -> float:
        return min(v.length_mm for v in self._work.railway.stock.values() if v.kind == "engine")

    # -- one by one ----------------------------------------------------------------------------------------------------

    def _no_road_round(self, then: Refused | None, engine: str, road: str) -> bool | None:
        if then is None:
            return None
        others = [other.id for other in self._both_ends(road.partition(".")[0]) if other.id != road]
        if all(then.on.get(other) for other in others):
            return True
        return None if self._somebody_moves(then, road.partition(".")[0]) else False

    def _somebody_moves(self, then: Refused, station: str) -> bool:
        """Another engine is at the station or in a section to it: an empty road may be promised to it."""
        near = [s for s in self._plant.at_stretch if s.partition(".")[0] == station or s in self._sections(station)]
        engines = {v for stretch in near for v in then.on.get(stretch, ()) if self._vehicle_of(v).kind == "engine"}
        return len(engines) > 1

    def _sections(self, station: str) -> list[str]:
        sections = self._plant.sections.values()
        return [s.id for s in sections if station in (s.from_throat.partition(".")[0], s.to_throat.partition(".")[0])]

    def _no_neck_round(self, then: Refused | None, engine: str, throat: str, room: str) -> bool:
        """The engine is longer than what is told, that is what the throat has, and no section there would do instead."""
        beyond_mm = Track(self._plant).length_mm(throat) - float(engine)
        return float(room) < float(engine) + MM and beyond_mm < 40.0 and not self._other_neck(then, throat)

    def _dead_end(self, then: Refused | None, engine: str, road: str) -> bool:
        return len(self._plant.roads[road].open) == 1

    def _no_road_free(self, then: Refused | None, station: str) -> bool | None:
        if then is None or self._somebody_moves(then, station):
            return None
        return sum(1 for road in self._both_ends(station) if not then.on.get(road.id)) == 0

    def _neck_too_short(self, then: Refused | None, neck: str, room: str, vehicle: str, drawn: str) -> bool:
        """The figures fit, and nothing else at that throat could have served: no section is empty there and open to all."""
        neck_mm = Track(self._plant).length_mm(neck.partition("@")[0])
        throat = self._plant.throats.get(neck)
        figures = float(room) < float(drawn) and float(drawn) >= self._vehicle_of(vehicle).length_mm - MM
        if throat is None:
            return figures
        return (
            figures and float(room) <= max(neck_mm - self._least_engine_mm(), 0.0) + MM and not self._other_neck(then, neck)
        )

    def _other_neck(self, then: Refused | None, throat: str) -> bool:
        """A section that leaves here, needs no token, is empty, with no other train anywhere near."""
        if then is None or self._somebody_moves(then, throat.partition(".")[0]):
            return False
        for section in self._plant.sections.values():
            way = "down" if section.from_throat == throat else "up"
            leaves = throat in (section.from_throat, section.to_throat) and way in section.directions
            if leaves and not section.token_tags and not then.on.get(section.id) and self._reached(then, section.id):
                return True
        return False

    def _reached(self, then: Refused, section: str) -> bool:
        roads = self._plant.roads.values()
        return not any(r.reaches and section not in r.reaches for r in roads)

    def _too_much_before(self, then: Refused | None, neck: str, vehicle: str, road: str) -> bool | None:
        if then is None or vehicle not in then.on.get(road, ()):
            return None
        throats = [t for t in self._plant.throats.values() if neck in (t.id, t.headshunt)]
        if not throats:
            return None
        line = then.on[road] if throats[0].end == "up" else then.on[road][::-1]
        drawn_mm = sum(self._vehicle_of(v).length_mm for v in line[: line.index(vehicle) + 1])
        return drawn_mm + MM >= Track(self._plant).length_mm(neck) - 100.0 - self._longest_engine_mm()

    def _longest_engine_mm(self) -> float:
        return max(v.length_mm for v in self._work.railway.stock.values() if v.kind == "engine")

    def _no_room(self, then: Refused | None, road: str, vehicle: str, of: str, taken: str) -> bool:
        fits = float(taken) + self._vehicle_of(vehicle).length_mm <= float(of) - MM
        return abs(float(of) - self._mm(road)) < 1.0 and not fits

    def _train_too_long(self, then: Refused | None, vehicle: str, train: str, road: str, holds: str) -> bool:
        return abs(float(holds) - self._mm(road)) < 1.0 and float(train) > float(holds) - MM

    def _no_road_holds(self, then: Refused | None, station: str, train: str) -> bool:
        roads = (self._plant.roads[r] for r in self._plant.stations[station].roads)
        return all(road.length_mm < float(train) + MM for road in roads if road.kind in ("running", "loop"))

    def _does_not_fit(self, then: Refused | None, train: str, road: str, vehicle: str) -> bool | None:
        return None if then is None else vehicle in then.on.get(road, ())

    def _too_long_for(self, then: Refused | None, train: str, road: str) -> bool:
        return float(train) > self._mm(road) - MM

    def _no_working(self, then: Refused | None) -> bool:
        move = next(m for m in self._work.railway.moves if m.vehicle == self._vehicle)
        ends = [self._plant.roads[road].station for road in (move.from_road, move.to_road)]
        for working in self._work.railway.workings.values():
            calls = [call.station for call in working.calls]
            if ends[0] in calls and ends[1] in calls[calls.index(ends[0]) :]:
                return False
        return True

    def _not_done_before(self, then: Refused | None) -> bool:
        rows = [n for n, move in enumerate(self._work.railway.moves) if move.vehicle == self._vehicle]
        return not all(self._work.done()[n] for n in rows[:-1])

    def _working_ended(self, then: Refused | None, working: str) -> bool:
        return any(r.working == working and r.vehicle is None for r in self._work.evening.scene.truth.reasons)

    def _was_elsewhere(self, then: Refused | None, road: str) -> bool:
        return self._vehicle in self._work.film.order.get(road, ())

    def _all_stood(self, then: Refused | None, why: str) -> bool | None:
        """Nothing had moved anywhere for about as long as the least patient crew waits."""
        if then is None:
            return None
        shunts = why.endswith(("for shunting", "for running round"))
        patience_min = min(manner.shunts_later_min if shunts else manner.patience_min for manner in MANNERS)
        patience_s = patience_min * 60.0 / self._plant.clock
        return then.t_s - then.moved_s > patience_s - 60.0

    def _not_at_one_end(self, then: Refused | None, road: str, siding: str) -> bool:
        return not set(self._plant.roads[road].open) & set(self._plant.roads[siding].open)

    def _taken_by(self, then: Refused | None, road: str, vehicle: str) -> bool:
        """It stood there for minutes, or stands there in the end; what only shunts there is soon gone."""
        film = self._work.film
        stays = [to_s - from_s for v, from_s, to_s in film.stays.get(road, ()) if v == vehicle]
        return vehicle in film.order.get(road, ()) or max(stays, default=0.0) > STANDS_S

    def _no_other_home(self, then: Refused | None, road: str) -> bool | None:
        return None
