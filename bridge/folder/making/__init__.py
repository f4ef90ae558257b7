"""A railway folder made from a sketch: a list of stations and roads, and what is told of them by somebody who begins.

Rule: what a person typed is judged field by field, and only what the reader of folders takes without a fault is written:
whole or not at all, never over a file that is there.
"""

from bridge.folder.making.making import Made, made
from bridge.folder.making.placing import NotMadeError, in_the_way, place
from bridge.folder.making.sketch import Sketch
from bridge.folder.making.wrongs import Wrong

__all__ = ["Made", "NotMadeError", "Sketch", "Wrong", "in_the_way", "made", "place"]
