"""On which road a train comes in at its next call.

Rule: on the booked one; on another only when that one will not come free in good time, and then on none that another train
is booked on before this one leaves, unless there is no other way at all.
"""

from __future__ import annotations

import math

from bridge.core.plan import Call, Working
from bridge.core.plant import RoadKind, Section
from bridge.virtual.crew.book import trip_of
from bridge.virtual.crew.post import Post
from bridge.virtual.crew.stacks import CannotError
from bridge.virtual.world import GAP_MM


class ComingIn:
    """The roads at a working's next call. `why`: why it does not come in on its booked one."""

    def __init__(self, post: Post, working: Working, then: Call, section: Section, throat: str) -> None:
        self._post, self._working, self._then, self._section, self._throat = post, working, then, section, throat
        self._booked = then.road
        roads = post.ground.plant.stations[then.station].roads
        self._others = [road for road in roads if road != then.road and self._is_for_trains(road)]
        self.why = ""

    def road(self, waited_s: float) -> tuple[str | None, str]:
        """The road to come in on, or why there is none as yet; `waited_s`: how long the train has waited, session seconds.

        Raises `CannotError` where the train fits on no road there.
        """
        self.why = self._hindered(self._booked)
        if not self.why:
            return self._booked, ""
        longest_mm = max(self._post.ground.plant.roads[road].length_mm for road in (self._booked, *self._others))
        if self._train_mm() > longest_mm:
            raise CannotError(f"no road at {self._then.station} holds {self._train_mm():.0f} mm of train")
        if self._frees_itself(waited_s):
            return None, self.why
        free = [road for road in self._others if not self._hindered(road)]
        unwanted = [road for road in free if not self._is_wanted(road)]
        if not unwanted and self._never_frees_itself():
            unwanted = free
        return (unwanted[0], "") if unwanted else (None, self.why)

    def _is_for_trains(self, road: str) -> bool:
        return self._post.ground.plant.roads[road].kind in (RoadKind.RUNNING, RoadKind.LOOP)

    def _train_mm(self) -> float:
        return self._post.length_mm((self._post.engine, *self._post.train))

    def _frees_itself(self, waited_s: float) -> bool:
        """Whether the booked road is worth waiting for."""
        return not self._never_frees_itself() and waited_s < self._post.manner.wrong_road_after_min * 60.0

    def _never_frees_itself(self) -> bool:
        post = self._post
        if self._train_mm() > post.ground.plant.roads[self._booked].length_mm:
            return True
        return not all(post.will_go(spot.vehicle) for spot in post.ground.line(self._booked))

    def _is_wanted(self, road: str) -> bool:
        """Whether another train is booked to come in on a road before this one leaves."""
        post = self._post
        leaves_s = math.inf if self._then.depart_s is None else self._then.depart_s
        for other in post.scene.railway.workings.values():
            if other.id == self._working.id or other.id in post.book.ended:
                continue
            for call in other.calls[1:]:
                comes_s = call.arrive_s if call.arrive_s is not None else call.depart_s
                comes = (other.id, call.station) not in post.book.arrived and (comes_s is None or comes_s <= leaves_s)
                if call.road == road and comes:
                    return True
        return False

    def _hindered(self, road: str) -> str:
        """Why a train cannot come in on a road just now; empty where it can."""
        post, plant = self._post, self._post.ground.plant
        end = self._throat.rpartition(".")[2]
        if end not in plant.roads[road].open or not post.world.track.reaches(road, self._section.id):
            return f"{road} is not reached from {self._section.id}"
        if self._train_mm() > plant.roads[road].length_mm:
            return f"the train is too long for {road}"
        if not post.book.is_free(road, post.engine):
            return f"{road} is another train's"
        standing = [spot for spot in post.ground.line(road) if spot.vehicle not in (post.engine, *post.train)]
        room_mm = min((post.ground.depth_mm(road, end, spot)[0] - GAP_MM for spot in standing), default=math.inf)
        if self._train_mm() > room_mm or (standing and (road != self._booked or self._goes_on_past())):
            return f"on {road} {standing[0].vehicle} stands"
        return ""

    def _goes_on_past(self) -> bool:
        """Whether vehicles standing on the booked road would be in the way of going on."""
        post = self._post
        after = trip_of(post.scene.railway, self._working, self._then.index)
        if after is None:
            return False
        return throats(post, post.ground.plant.sections[after.section], self._then.station)[0] != self._throat


def throats(post: Post, section: Section, station: str) -> tuple[str, str]:
    """The throats by which a train leaves a station into a section, and comes to the next."""
    throats = section.throats
    is_from = post.ground.plant.throats[section.from_throat].station == station
    return throats if is_from else throats[::-1]
