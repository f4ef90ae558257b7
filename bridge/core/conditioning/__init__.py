"""From board lines to observations: what boards and detectors have said, and what of it holds.

Rule: what is not proved is unknown; each numbered line counts once; a `state` line never makes a movement; late evidence
is given as what it is, for whoever keeps the past to put in its place.
"""

from bridge.core.conditioning.boards import BoardNow, LinkNow
from bridge.core.conditioning.detectors import DetectorNow
from bridge.core.conditioning.intake import Conditioning
from bridge.core.conditioning.values import BoardChange, Conditioned, Late, Observation

__all__ = ["BoardChange", "BoardNow", "Conditioned", "Conditioning", "DetectorNow", "Late", "LinkNow", "Observation"]
