"""Mistakes with tokens: gone without it, gone with another train's, carried past the rest where it is to lie.

Rule: the token is always somewhere, and whoever needs it next gets it by the crews' own means.
"""

from __future__ import annotations

from bridge.core.plan import Call, Working
from bridge.virtual import orders as o
from bridge.virtual.crew.mishap import Acts
from bridge.virtual.crew.slips import Slip

MINUTE_S = 60.0
FOUND_S = 20.0


class NoToken(Slip):
    """A train goes without the authority for its section; the token stays where it is."""

    def takes_token(self, working: Working, call: Call, section: str) -> bool:
        """It does not."""
        return not self.is_now(working, call)

    def sets_off(self, working: Working, call: Call, order: o.RunsTo) -> Acts[bool]:
        """Off without it."""
        if self.is_now(working, call) and not self.made:
            leg = self.leg(working, call)
            enters = o.Condition("in", self.train(working, leg)[0], leg.section.id)
            subject = (("section", leg.section.id), ("train", working.id))
            yield self.expects("no-authority", subject, o.Moment(enters), o.Moment(enters, 1.0))
            yield from self.takes_instead(leg.section.id, call.station)
        return False

    def is_now(self, working: Working, call: Call) -> bool:
        """Whether it is made at this departure."""
        return self.is_its(working, call)

    def takes_instead(self, section: str, station: str) -> Acts[None]:
        """Nothing."""
        yield from ()


class WrongToken(NoToken):
    """A train takes the token that was for another, booked before it."""

    def departs_s(self, working: Working, call: Call) -> float | None:
        """Before the other."""
        other = self._book.scene.railway.workings[self._occasion.things[1]]
        theirs = next((c.depart_s for c in other.calls if c.station == call.station and c.depart_s is not None), None)
        if not self.is_its(working, call) or theirs is None or call.depart_s is None:
            return call.depart_s
        return min(call.depart_s, theirs - MINUTE_S)

    def is_now(self, working: Working, call: Call) -> bool:
        """Only while the token lies there and it is the turn of the other, who stands there too: else a token that is
        lifted belongs to whoever does so."""
        section, other = self._occasion.things
        following, railway = self._book.next_trip(section), self._book.scene.railway
        turn = following is not None and following.working == other
        road = self._book.ground.road_of(railway.workings[other].engine)
        is_there = road is not None and railway.plant.station_of(road) == call.station
        return self.is_its(working, call) and turn and is_there and self._book.scene.tokens.lies_at(section) == call.station

    def takes_instead(self, section: str, station: str) -> Acts[None]:
        """The other's token."""
        yield o.TakesToken(section, station)
        self._book.move_token(section, None)
        yield o.Waits(2.0)

    def has_come(self, working: Working, call: Call) -> Acts[None]:
        """Laid down where it has come to."""
        section = self._occasion.things[0]
        if self.made and (working.id, call.index) == (self._occasion.working, self._occasion.call + 1):
            if self._book.scene.tokens.has_rest(section, call.station):
                yield o.LaysToken(section, call.station)
            self._book.move_token(section, call.station)


class TokenKept(Slip):
    """A token is forgotten on the engine, and brought back from its next call."""

    def lays_token(self, working: Working, call: Call, section: str) -> bool:
        """It is not laid down."""
        if self.is_its(working, call) and not self.made and self._book.scene.tokens.is_out(section):
            self.made = True
            return False
        return True

    def has_come(self, working: Working, call: Call) -> Acts[None]:
        """Found in the cab, and carried back."""
        (section,) = self._occasion.things
        if self.made and (working.id, call.index) == (self._occasion.working, self._occasion.call + 1):
            yield o.Waits(FOUND_S)
            if self._book.scene.tokens.is_out(section):
                yield o.LaysToken(section, self._occasion.station)
                self._book.move_token(section, self._occasion.station)
