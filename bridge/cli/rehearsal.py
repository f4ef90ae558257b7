"""The wires of a virtual evening, which board speaks through a pseudo-terminal and which through a broker; its speed.

Rule: boards that the folder puts on MQTT go there where there is a broker; all others get a pseudo-terminal.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass

from bridge.core.plant import Plant
from bridge.virtual.wires import BrokerBoards, Terminals, Wire

SPEEDS = (0.1, 30.0)
"""Faster, and the delays of real wires are no longer small against what boards and trains do."""


def speed(text: str) -> float:
    """A speed on the command line; for argparse."""
    try:
        value = float(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is no number') from None
    if not SPEEDS[0] <= value <= SPEEDS[1]:
        raise argparse.ArgumentTypeError(f"a speed is a number from {SPEEDS[0]:g} to {SPEEDS[1]:g}")
    return value


@dataclass(frozen=True, slots=True)
class Wiring:
    """The wires, and which board is on which."""

    terminals: Terminals | None
    broker: BrokerBoards | None
    by_broker: tuple[str, ...]

    @property
    def wires(self) -> list[Wire]:
        """All there are."""
        return [wire for wire in (self.terminals, self.broker) if wire is not None]

    @property
    def paths(self) -> dict[str, str]:
        """The pseudo-terminal of each board that has one."""
        return {} if self.terminals is None else self.terminals.paths


def wiring(plant: Plant, broker: tuple[str, int] | None) -> Wiring:
    """Make the wires. Raises OSError on a system without pseudo-terminals where one is needed."""
    by_broker = tuple(b.id for b in plant.boards.values() if b.link == "mqtt") if broker is not None else ()
    others = [board for board in plant.boards if board not in by_broker]
    at_broker = None if broker is None else BrokerBoards(plant.id, *broker, by_broker)
    return Wiring(Terminals(others) if others else None, at_broker, by_broker)
