"""Whose topics and names an examination of a broker uses."""

from __future__ import annotations

from dataclasses import dataclass

from bridge.links.broker import Broker
from bridge.links.topics import topic_of
from bridge.service.examining.visit import Visit


@dataclass(frozen=True, slots=True)
class Probe:
    """A broker to be examined for one railway; `mark` sets this examination's topics and sessions apart from any other's."""

    broker: Broker
    railway: str
    mark: str

    def topic(self, *levels: str) -> str:
        """A topic of this examination."""
        return topic_of(self.railway, "probe", self.mark, *levels)

    def name(self, what: str) -> str:
        """A client id of this examination."""
        return f"numbertaker-doctor-{self.mark}-{what}"

    def visit(self, what: str, *, is_kept: bool = False, will: str | None = None) -> Visit:
        """Connect."""
        return Visit(self.broker, self.name(what), is_kept=is_kept, will=will)
