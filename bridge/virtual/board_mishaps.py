"""What befalls boards in the course of an evening: a reset, a link that drops, silence, reports that are lost.

Rule: what the bridge should say of it is expected of it in the truth.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from bridge.virtual.board import ALIVE_S
from bridge.virtual.boards import Boards
from bridge.virtual.faults import Fault
from bridge.virtual.moments import HELD_UP_S, Moments
from bridge.virtual.noticing import Noticing, Row
from bridge.virtual.orders import BoardFails, Condition, Expectation, Moment
from bridge.virtual.scene import Scene
from bridge.virtual.subjects import stations_of
from bridge.virtual.truth import Watched

BROWNOUTS = 4  # no more of them in an evening
SILENT_S = 40.0
LOST_REPORTS = 3
UNHEARD_S = (4.0, 6.0)  # a board that has fallen silent is missed so much later: from, to
UNSENT_S = (5.0, 7.0)  # a report that is not sent again either counts as lost so much later: from, to


class BoardMishaps:
    """The faults of boards of one evening, each planted (`BEFALL`) once the session has begun."""

    def __init__(self, scene: Scene, cabinet: Boards, moments: Moments, noticing: Noticing) -> None:
        self._scene, self._cabinet, self._moments, self._shows = scene, cabinet, moments, noticing.shows

    def brown_out(self, fault: Fault, row: Row, chance: Random) -> None:
        """Now and then it resets when points move."""
        board, stations = fault.subjects[0], stations_of(self._scene.railway, fault.subjects[0])

        def reset() -> None:
            if self._cabinet.by_name[board].awake and row["times"] < BROWNOUTS:
                self._shows(row)
                self._cabinet.restart(board, chance.uniform(1.0, 2.0), "brownout", "brownout")

        def moved(throat: str) -> None:
            if throat.partition(".")[0] in stations and (chance.random() < 0.3 or row["t"] is None):
                row["t"] = row["t"] or round(self._scene.now_s, 3)
                self._scene.timeline.after(chance.uniform(0.01, 0.08), reset)

        self._scene.inputs.on_points.append(moved)

    def cut_off(self, fault: Fault, row: Row, chance: Random) -> None:
        """Its link is down for a while; it goes on, and sends what it has kept."""
        away_s = chance.uniform(25.0, 45.0)

        def cut() -> None:
            now_s = self._scene.now_s
            row["t"], row["until_t"] = round(now_s, 3), round(now_s + away_s, 3)
            self._cabinet.cut_off(fault.subjects[0], away_s)
            self._is_unheard(fault, row)

        self._moments.at_some_moment(chance, 0.1, 0.5, lambda: self._moments.once_it_runs(fault.subjects[0], cut))

    def fall_silent(self, fault: Fault, row: Row, chance: Random) -> None:
        """It says nothing for a while and starts anew."""
        board = fault.subjects[0]

        def silence() -> None:
            now_s = self._scene.now_s
            if not self._cabinet.by_name[board].awake:  # it is just starting anew for another reason
                self._scene.timeline.after(HELD_UP_S, silence)
                return
            row["t"], row["until_t"] = round(now_s, 3), round(now_s + SILENT_S, 3)
            self._cabinet.fail(BoardFails(board, silent_s=SILENT_S))
            self._is_unheard(fault, row)

        self._moments.at_some_moment(chance, 0.1, 0.6, silence)

    def lose(self, fault: Fault, row: Row, chance: Random) -> None:
        """Some of its reports are lost, and it cannot send them again."""
        board = fault.subjects[0]

        def one_more(name: str) -> None:
            if name == board and row["t"] is not None:
                row["until_t"] = round(self._scene.now_s, 3)
                self._scene.timeline.after(ALIVE_S, lambda: self._shows(row))

        def begin() -> None:
            row["t"] = round(self._scene.now_s, 3)
            shows, due = (Moment(Condition("marked", f"{board}-losing"), after_s) for after_s in UNSENT_S)
            missed = Expectation("reports-lost", (("board", board),), shows, due, ("reports-lost",))
            self._scene.truth.watched.append(Watched(missed))
            self._cabinet.fail(BoardFails(board, lost=LOST_REPORTS))

        self._cabinet.on_lost.append(one_more)
        self._moments.at_some_moment(chance, 0.05, 0.35, lambda: self._moments.once_it_runs(board, begin))

    def _is_unheard(self, fault: Fault, row: Row) -> None:
        """Nothing comes from a board from now on: it is missed once its next line should have come."""
        now_s, subject = self._scene.now_s, (("board", fault.subjects[0]),)
        missed = Expectation("board-lost", subject, Moment(Condition("always")), Moment(Condition("always")))
        self._scene.truth.watched.append(Watched(missed, now_s + UNHEARD_S[0], now_s + UNHEARD_S[1]))
        self._scene.timeline.after(ALIVE_S, lambda: self._shows(row))


BEFALL: dict[str, Callable[[BoardMishaps, Fault, Row, Random], None]] = {
    "brownout": BoardMishaps.brown_out,
    "link-drops": BoardMishaps.cut_off,
    "silent-board": BoardMishaps.fall_silent,
    "losing-board": BoardMishaps.lose,
}
