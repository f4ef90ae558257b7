"""The dashboard: the page and its live picture over HTTP, and the door for what operators tell.

Rule: it knows the service by `Door` alone.
"""

from bridge.dashboard.app import create_app
from bridge.dashboard.door import After, Answer, Commits, Door, Fitness, Shown
from bridge.dashboard.listening import Listening, listen

__all__ = ["After", "Answer", "Commits", "Door", "Fitness", "Listening", "Shown", "create_app", "listen"]
