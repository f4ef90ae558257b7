"""The dashboard: the page and its live picture over HTTP, and the door for what operators tell.

Rule: it knows the service by `Door` alone.
"""

from bridge.dashboard.app import create_app
from bridge.dashboard.door import After, Answer, Commits, Door, Fitness, Shown
from bridge.dashboard.founding import Ground, create_founding
from bridge.dashboard.listening import Listening, listen
from bridge.dashboard.pin import Pin, is_this_machine

__all__ = [
    "After",
    "Answer",
    "Commits",
    "Door",
    "Fitness",
    "Ground",
    "Listening",
    "Pin",
    "Shown",
    "create_app",
    "create_founding",
    "is_this_machine",
    "listen",
]
