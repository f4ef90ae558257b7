"""A scene of the Otter Wharf Tramway: a wagon that stands where the train is booked to come in."""

from __future__ import annotations

from ..scene import Scene


def foretold() -> Scene:
    """w3 stands on o1's booked road from the start."""
    s = Scene(
        "A van stands on the main road at Otter Wharf, where o1 is booked to come in, and nobody is booked to take it away:",
        "said as the session begins, and a caution when o1 sets off. Somebody takes it off the track, and says so.",
        folder="wharf",
        begin="10:01",
    )
    s.on("otter-throat", after=16.0).on("line", after=3.0).read("otter-limit", "e1", after=0.2).read("otter-limit", "w1")
    s.off("otter-main", after=0.3).read("otter-limit", "w2", after=0.7).off("otter-throat", after=1.0)
    s.say("stands w3 off", after=15.0).off("wharf-main", after=2.0)
    s.on("wharf-throat", after=20.0).read("wharf-limit", "e1", after=0.2).read("wharf-limit", "w1").on("wharf-main")
    return s.read("wharf-limit", "w2").off("line", after=0.5).off("wharf-throat", after=2.5).wait(6.0)


SCENES = {"road-blocked-foretold": foretold}
