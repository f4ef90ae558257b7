"""A railway several times over: copies of it in one plant, joined by nothing, each working its own evening.

Rule: a copy differs from the railway in nothing but its ids and tags, so what a line costs in many can be held against one.
"""

from __future__ import annotations

import heapq
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from enum import Enum
from typing import Any

from bridge.core.plan import Railway
from bridge.core.plant import Plant
from bridge.wire.records import HostStarted, HostStopped, Received, Record, Said

PARTS = ("stations", "roads", "throats", "sections", "boards", "detectors")
ONCE = {"begin", "end", "stop-clock", "go-on"}
TAGS = {"tags", "token_tags"}
LINKED = re.compile(r"[a-z0-9-]+")


def railway(one: Railway, size: int) -> Railway:
    """`size` copies of a railway in one."""
    copies = [_Copy(one, number).railway() for number in range(size)]
    plant = one.plant
    parts = [{key: part for copy in copies for key, part in getattr(copy.plant, kind).items()} for kind in PARTS]
    return Railway(
        Plant(plant.id, plant.name, plant.scale, plant.clock, *parts, plant.limits),
        {key: vehicle for copy in copies for key, vehicle in copy.stock.items()},
        tuple(standing for copy in copies for standing in copy.standing),
        {key: working for copy in copies for key, working in copy.workings.items()},
        tuple(replace(move, index=n) for n, move in enumerate(move for copy in copies for move in copy.moves)),
    )


def records(one: Railway, evening: Sequence[Record], size: int) -> Iterator[Record]:
    """The evening of every copy at once, in the order of time. The session and the service begin and end once."""
    copies = [_Copy(one, number).records(evening) for number in range(size)]
    return heapq.merge(*copies, key=lambda record: record.t)


class _Copy:
    """One copy; the first (0) keeps its names."""

    def __init__(self, one: Railway, number: int) -> None:
        self._one = one
        self._number = number
        plant = one.plant
        parts = (plant.stations, plant.sections, plant.boards, plant.detectors, one.stock, one.workings)
        self._ids = {key for part in parts for key in part}

    def railway(self) -> Railway:
        """The railway with this copy's names."""
        one, plant = self._one, self._one.plant
        parts: list[Any] = [self._named(dict(getattr(plant, kind))) for kind in PARTS]
        return Railway(
            Plant(plant.id, plant.name, plant.scale, plant.clock, *parts, plant.limits),
            self._named(dict(one.stock)),
            self._named(one.standing),
            self._named(dict(one.workings)),
            self._named(one.moves),
        )

    def records(self, evening: Iterable[Record]) -> Iterator[Record]:
        """The evening's records with this copy's names."""
        for record in evening:
            once = isinstance(record, HostStarted | HostStopped) or (
                isinstance(record, Said) and record.words.split()[0] in ONCE
            )
            if self._number == 0:
                yield record
            elif not once:
                yield self._record(record)

    def _record(self, record: Record) -> Record:
        if isinstance(record, Received):
            line = record.line
            value = getattr(line, "value", "")
            if value.startswith("tag="):
                line = replace(line, value=self._tag(value))
            return replace(record, link=f"{record.link}-{self._number}", line=replace(line, board=self._text(line.board)))
        return self._named(record)

    def _named(self, value: Any) -> Any:
        """The value with every id in it renamed."""
        if isinstance(value, Enum) or self._number == 0:
            return value
        if isinstance(value, str):
            return self._text(value)
        if isinstance(value, tuple):
            return tuple(self._named(inner) for inner in value)
        if isinstance(value, dict):
            return {self._named(key): self._named(inner) for key, inner in value.items()}
        if is_dataclass(value) and not isinstance(value, type):
            own = {field.name: getattr(value, field.name) for field in fields(value)}
            renamed = {k: tuple(map(self._tag, v)) if k in TAGS else self._named(v) for k, v in own.items()}
            return type(value)(**renamed)
        return value

    def _text(self, text: str) -> str:
        return LINKED.sub(lambda found: f"{found[0]}-{self._number}" if found[0] in self._ids else found[0], text)

    def _tag(self, tag: str) -> str:
        return f"{tag}{self._number:02X}" if self._number else tag
