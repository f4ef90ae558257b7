"""The one view: a state drawn into one JSON-ready snapshot, which pages, HTTP and MQTT show as it is.

Rule: pure and without a rule of its own; every key is described in DEVELOPERS.md.
"""

from __future__ import annotations

from typing import Any

from bridge.core.state import State


def view(state: State) -> dict[str, Any]:
    """The state as one JSON-ready object."""
    return {}
