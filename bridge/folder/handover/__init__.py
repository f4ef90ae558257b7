"""What one session hands over to the next: where everything stands, and the moves that are left to do.

Rule: nothing is written but what has been seen, and what would be lost by writing is kept beside it, dated.
"""

from bridge.folder.handover.offer import Ended, Offer, offered
from bridge.folder.handover.standing import Stand, settled, stands_of
from bridge.folder.handover.writing import NotWrittenDownError, write_down

__all__ = [
    "Ended",
    "NotWrittenDownError",
    "Offer",
    "Stand",
    "offered",
    "settled",
    "stands_of",
    "write_down",
]
