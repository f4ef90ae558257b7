"""The railway folder: five text files that a person edits, read and held against each other.

Rule: every fault is told at its place, all at once; a folder with a fault never becomes a railway.
"""

from bridge.folder.finding import Finding, Spot
from bridge.folder.reading import FolderRead, load, read, why_no_folder
from bridge.folder.setting_tables import Broker

__all__ = ["Broker", "Finding", "FolderRead", "Spot", "load", "read", "why_no_folder"]
