"""What other programs read of the picture: its shape, its cut into things with a topic each, and the documents of both.

Rule: pure, and no second view. What is read here is the snapshot of `bridge.core.view`, key for key; the shape is written
down once, and HTTP's document and MQTT's are made from it.
"""

from bridge.published.asyncapi import document
from bridge.published.shapes import Picture
from bridge.published.things import BRIDGE, TICK, Row, Things, bridge_is, things, ticking

__all__ = ["BRIDGE", "TICK", "Picture", "Row", "Things", "bridge_is", "document", "things", "ticking"]
