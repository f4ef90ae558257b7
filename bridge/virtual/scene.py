"""What everybody in an evening shares: track, vehicles, inputs, tokens, the clock on the wall, the truth being written.

Rule: it only holds things together; who may change what is said by those who use it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from bridge.core.plan import Railway
from bridge.virtual.chronicle import Chronicle
from bridge.virtual.clock import SessionClock
from bridge.virtual.inputs import Inputs
from bridge.virtual.orders import Crew, Resourceful
from bridge.virtual.script import Script, ScriptError, ScriptFault
from bridge.virtual.timeline import Timeline
from bridge.virtual.tokens import Tokens
from bridge.virtual.truth import Truth
from bridge.virtual.world import BlockedError, World


@dataclass
class Scene:
    """The shared things of one evening."""

    railway: Railway
    script: Script
    timeline: Timeline
    world: World
    inputs: Inputs
    tokens: Tokens
    truth: Truth
    clock: SessionClock
    chance: Random
    workings: dict[str, str] = field(default_factory=dict)  # engine -> the working it is on
    chronicle: Chronicle = field(init=False)

    def __post_init__(self) -> None:
        self.chronicle = Chronicle(self.world, self.workings, self.tokens)

    @property
    def now_s(self) -> float:
        """The instant."""
        return self.timeline.now_s

    def train_of(self, engine: str) -> str:
        """The working an engine is on, else its own id."""
        return self.workings.get(engine, engine)


def refused(where: str, crew: Crew, reason: object) -> ScriptError:
    """An order that cannot be done, as the fault of the line (file:line) that gave it."""
    file, _, line_no = where.rpartition(":")
    number = int(line_no) if line_no.isdigit() else 0
    return ScriptError([ScriptFault(file, number, f"crew {crew.name}", f"{crew.name} cannot do this: {reason}.")])


def tell(crew: Crew, where: str, blocked: BlockedError) -> None:
    """A crew that can find another way hears why its order cannot be done; for any other it is a fault of its line."""
    if not isinstance(crew, Resourceful):
        raise refused(where, crew, blocked) from None
    crew.refused(str(blocked), blocked.by, blocked.passing)
