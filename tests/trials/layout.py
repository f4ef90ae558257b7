"""A layout that is worked for weeks: evening after evening, on a clock that is turned, with everything that goes wrong.

Rule: what happens on the track is true and known; boards, wires, clocks and operators fail by the seed. The service is told
nothing but what reaches it.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from bridge.dashboard import Shown
from bridge.folder import FolderRead
from bridge.links.link import Arrival
from bridge.virtual.orders import BoardFails
from bridge.wire.lines import BoardLine, HostLine, Report
from bridge.wire.records import Record, Said

from .evenings import Boards, staged
from .turned import Clock, Soon, Turned
from .wires import Wire

ONLOOKERS = 3
WIRE_S = 0.01
FIRST_S, LAST_S = 30.0, 1_250.0
FAULTS = 8
"""In each evening that has any."""

CLEAN_EVERY = 4
"""Every so many evenings nothing goes wrong, and no detector flickers."""


@dataclass
class Evening:
    """How an evening went. `raised`: irregularities by kind; `phantoms`: trains that sections say they hold at its end and
    that are not there; `misplaced`: vehicles that are believed elsewhere than they stand."""

    number: int
    faults: tuple[str, ...]
    raised: Counter[str] = field(default_factory=Counter)
    phantoms: list[str] = field(default_factory=list)
    misplaced: int = 0


class Layout:
    """Railway, boards, wires and operators, and the service that listens to them."""

    def __init__(self, home: Path, folder: Path, read: FolderRead, *, seed: int, flickers: float) -> None:
        assert read.railway is not None
        self.store = home / "soak.store"
        self.clock = Clock()
        self.evenings: list[Evening] = []
        self.reports = self.lines = self.starts = 0
        self.log: Counter[str] = Counter()
        self._read, self._stage, self._flickers = read, staged(read, folder), flickers
        self._seed, self.chance = seed, Random(f"soak {seed}")
        self._soon = Soon()
        self._boards: Boards | None = None
        self._turned: Turned | None = None
        self._rows: list[Mapping[str, Any]] = []
        plant = read.railway.plant
        self._wires = {name: Wire(name, plant.boards[name].link == "mqtt", self) for name in plant.boards}
        self._detectors = sorted(plant.detectors)

    # -- the days ------------------------------------------------------------------------------------------------------

    def work(self, evenings: int, after: Callable[[Evening], None]) -> None:
        """A day of so many evenings, one behind the other; the service is stopped at its end, and once in its midst."""
        self._left, self._after = evenings, after
        self._restart_in = self.chance.randrange(evenings)
        self._soon.at(self.clock.t + 5.0, self._begin)
        while self._left:
            self._serve()

    def rest(self, until_t: float) -> None:
        """Nobody is there until then."""
        self.clock.t = max(self.clock.t, until_t)

    def _serve(self) -> None:
        """One run of the service, from its start to its stop."""
        self.starts += 1
        turned = self._turned = Turned(self.store, self._read, self.clock, self, self._hear, self._note)
        for _ in range(ONLOOKERS):
            turned.service.subscribe(_look)
        self._soon.at(self.clock.t + 0.02, self._open)
        turned.run()
        self._turned = None
        if self._left:
            self._pass_unheard(self.chance.uniform(0.5, 30.0))

    def _pass_unheard(self, seconds: float) -> None:
        until_t = self.clock.t + seconds
        while self.turn(until_t):
            pass

    def _begin(self) -> None:
        """The next evening's boards are switched on."""
        number = len(self.evenings) + 1
        is_clean = number % CLEAN_EVERY == 0
        flickers = 0.0 if is_clean else self._flickers
        seed = 1_000 * self._seed + number
        boards = Boards(self._stage, seed, zero_t=self.clock.t, boot=number, flickers=flickers)
        boards.on_line, boards.on_words = self._say, self.tell
        self._boards, self._rows = boards, []
        if self._restart_in == 0 and is_clean:
            self._restart_in = 1
        elif self._restart_in == 0:
            self._soon.at(self.clock.t + self.chance.uniform(FIRST_S, LAST_S), self._stop)
        self._restart_in -= 1
        faults = () if is_clean else self._go_wrong()
        self.evenings.append(Evening(number, faults))
        boards.switch_on()

    def _go_wrong(self) -> tuple[str, ...]:
        chosen = []
        for _ in range(FAULTS):
            kinds = self._kinds()
            name = self.chance.choice(sorted(kinds))
            chosen.append(name)
            self._soon.at(self.clock.t + self.chance.uniform(FIRST_S, LAST_S), kinds[name])
        return tuple(chosen)

    def _kinds(self) -> dict[str, Callable[[], None]]:
        """Everything that can go wrong, for a board chosen by chance."""
        chance = self.chance
        name = chance.choice(sorted(self._wires))
        wire = self._wires[name]
        return {
            "silent": lambda: self._fail(BoardFails(name, silent_s=chance.uniform(3.0, 60.0))),
            "reset": lambda: self._fail(BoardFails(name, silent_s=0.3)),
            "lost for good": lambda: self._fail(BoardFails(name, lost=chance.randint(1, 3))),
            "lost and sent again": lambda: self._fail(BoardFails(name, lost=chance.randint(1, 3), kept=True)),
            "repeated": lambda: wire.repeat_until(self.clock.t + 60.0),
            "late": lambda: wire.delay_until(self.clock.t + 30.0),
            "garbage": lambda: wire.garble(chance.randbytes(chance.randint(1, 400)) + b"\n"),
            "link closed": lambda: self._close(wire, chance.uniform(0.5, 20.0)),
            "time of day set": lambda: self._set_wall(chance.choice((-3_600.0, 3_600.0, -1_600_000_000.0))),
            "operator": self._operate,
        }

    def _end(self) -> None:
        """The evening is over and told: how did it go?"""
        boards, turned, evening = self._boards, self._turned, self.evenings[-1]
        assert boards is not None
        assert turned is not None
        world = boards.evening.scene.world
        for section in turned.resumed.desk.view()["sections"]:
            true = set(world.standing_on(section["id"]))
            evening.phantoms += [f"{section['id']}: {train}" for train in section["trains"] if not true]
        last = {row["vehicle"]: row["place"] for row in self._rows if row["says"] == "whereabouts"}
        stands = {vehicle: world.places_of(vehicle) for vehicle in self._stage.railway.stock}
        evening.misplaced = sum(last.get(vehicle) not in places for vehicle, places in stands.items())
        items = {row["id"]: row["kind"] for row in self._rows if row["says"] == "irregularity"}
        evening.raised = Counter(items.values())
        self._boards, self._rows = None, []
        self._after(evening)
        self._left -= 1
        if self._left:
            self._soon.at(self.clock.t + 60.0, self._begin)
        else:
            self._stop()

    def _stop(self) -> None:
        if self._turned is not None:
            self._turned.service.stop()

    # -- what happens ------------------------------------------------------------------------------------------------

    def turn(self, until_t: float) -> bool:
        """The next thing on the railway, on a wire, or that goes wrong."""
        boards = self._boards
        ahead_t = boards.next_t if boards is not None and not boards.is_over else float("inf")
        t = min(self._soon.next_t, ahead_t)
        if t > until_t:
            self.clock.t = max(self.clock.t, until_t)
            return False
        self.clock.t = max(self.clock.t, t)
        if self._soon.next_t <= t:
            self._soon.step()
        else:
            assert boards is not None
            boards.step()
            if boards.is_over:
                self._soon.at(self.clock.t + 2.0, self._end)
        return True

    def heard(self, board: str, line: HostLine) -> None:
        """The service tells a board something."""
        self.after(WIRE_S, lambda: self._tell_board(board, line))

    def after(self, seconds: float, do: Callable[[], None]) -> None:
        """Do something so many seconds from now."""
        self._soon.at(self.clock.t + seconds, do)

    def bring(self, record: Record) -> bool:
        """Hand a record to the service; False where none is there."""
        return self._turned is not None and self._turned.link.bring(Arrival((record,)))

    def tell(self, words: str) -> None:
        """An operator tells something: again, until a service is there to take it."""
        self.after(WIRE_S, lambda: None if self.bring(Said(self.now(), "crew", words)) else self.tell(words))

    def _tell_board(self, board: str, line: HostLine) -> None:
        boards = self._boards
        if boards is not None and not boards.is_over and not self._wires[board].is_closed:
            boards.hear(board, line, self.clock.t)

    def _say(self, line: BoardLine) -> None:
        self.lines += 1
        self.reports += isinstance(line, Report)
        self._wires[line.board].carry(line)

    def _open(self) -> None:
        """The service has started, and opens what there is."""
        for wire in self._wires.values():
            wire.open()

    def _close(self, wire: Wire, seconds: float) -> None:
        wire.close()
        self.after(seconds, wire.open)

    def _fail(self, order: BoardFails) -> None:
        if self._boards is not None and not self._boards.is_over:
            self._boards.fail(order)

    def _set_wall(self, by_s: float) -> None:
        self.clock.wall_shift_s += by_s
        self.after(120.0, lambda: setattr(self.clock, "wall_shift_s", 0.0))

    def _operate(self) -> None:
        detector = self.chance.choice(self._detectors)
        self.tell(f"mute {detector}")
        self.after(20.0, lambda: self.tell(f"unmute {detector}"))
        for item in sorted({row["id"] for row in self._rows if row["says"] == "irregularity"})[-1:]:
            self.tell(f"acknowledge {item}")
        self.tell("what is the matter with the dock")

    def now(self) -> float:
        """The second of the service that is there."""
        return 0.0 if self._turned is None else round(self._turned.resumed.clock(), 6)

    def _hear(self, row: Mapping[str, Any]) -> None:
        if row["says"] in ("irregularity", "whereabouts"):
            self._rows.append(row)

    def _note(self, text: str) -> None:
        self.log[text.partition(":")[0][:60]] += 1


def _look(shown: Shown) -> None:
    json.dumps(shown.snapshot)
