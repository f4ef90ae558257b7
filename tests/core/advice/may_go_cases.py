"""What stands against a train's going, a case each, and what is answered.

Sources: check values, section 6, by number; where none is given it is common practice and has no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from ..authority_steps import (
    Step,
    flickering_line,
    g1_in,
    g1_in_unproved,
    g1_out,
    lay_at_birch,
    lift,
    say,
)
from ..conftest import DOCKS, ENDS, RESTS, TRACKS, Row, Session
from ..test_anything import RULES

ONE, TOK, STAFF, CIRCUIT = RULES
HEAD = "vehicle,from,to,working,call\n"
WAITS = "working,kind,engine,station,road,arrive,depart,rake,wait_for\n"
CROSSING = """g1,goods,e1,ash,main,,19:05,w1 v1,{wait}
g1,goods,e1,birch,main,19:09,,,
r3,goods,e3,birch,loop,,19:01,,
r3,goods,e3,ash,loop,{comes},,,
"""


def last(s: Session, train: str) -> Row:
    """The last answer for a train."""
    return s.rows("may-go", train=train)[-1]


def time_comes(s: Session) -> None:
    """19:05: every train's booked time has come."""
    s.wait(60.0)


def birch_is_free(s: Session) -> None:
    """r3 does not run, and its engine makes room."""
    s.say("cancel r3")
    s.say("stands e3 birch.dock")


def see(detector: str, value: str) -> Step:
    return lambda s: s.see(detector, value)


def wait(seconds: float) -> Step:
    return lambda s: s.wait(seconds)


@dataclass(frozen=True)
class Case:
    what: str
    train: str
    answer: str
    why: str
    steps: tuple[Step, ...] = (time_comes,)
    rule: str = ONE
    more: tuple[str, ...] = ()
    detectors: tuple[str, ...] = (*TRACKS, *ENDS, *DOCKS)
    moves: str = HEAD
    section: str = ""
    source: str = ""


NO_LINE = tuple(d for d in TRACKS if d != "line")
BRIDGE = (see("bridge", "on"), time_comes)
CASES = (
    Case("a clear section at its time", "g1", "yes", "May go: ash-birch is clear.", source="6.2, 6.15"),
    Case("before its time", "g1", "wait", "Not yet: it is booked to leave at 19:02, about 1 min.", (wait(1.0),)),
    Case("the earlier one goes first", "p2", "wait", "Not yet: g1 to go first"),
    Case(
        "not while another is in it",
        "p2",
        "wait",
        "Not yet: g1 to arrive and clear ash-birch",
        (wait(15), g1_out),
        source="6.1",
    ),
    Case("nor against one", "r3", "wait", "Not yet: g1 to arrive and clear ash-birch", (wait(15), g1_out), source="6.3"),
    Case(
        "once it is out complete",
        "p2",
        "yes",
        "May go: ash-birch is clear.",
        (birch_is_free, time_comes, g1_out, g1_in),
        source="6.16",
    ),
    Case(
        "not where its last vehicle is not proved",
        "p2",
        "look",
        "Look first: the last vehicle of g1 was not seen to clear ash-birch.",
        (birch_is_free, time_comes, g1_out, g1_in_unproved),
        source="6.16",
    ),
    Case(
        "an operator has looked",
        "p2",
        "yes",
        "May go",
        (birch_is_free, time_comes, g1_out, g1_in_unproved, say("return ash-birch g1"), say("unmute line")),
    ),
    Case(
        "what is unknown",
        "g1",
        "look",
        "Look first: what line says of ash-birch is unknown (muted).",
        (time_comes, say("mute line")),
    ),
    Case(
        "what nobody explains",
        "g1",
        "look",
        "Look first: line says that something is in ash-birch.",
        (time_comes, flickering_line),
        source="6.19",
    ),
    Case(
        "a wagon stands there",
        "g1",
        "wait",
        "Not yet: w4 stands in ash-birch.",
        (time_comes, say("stands w4 ash-birch"), wait(3)),
        source="6.19",
    ),
    Case("nothing watches it", "g1", "look", "Look first: nothing has proved ash-birch clear", detectors=(*NO_LINE, *ENDS)),
    Case(
        "another has it by word",
        "g1",
        "wait",
        "Not yet: p2 has the section.",
        (time_comes, say("give ash-birch p2")),
        source="6.14",
    ),
    Case(
        "it is to assist",
        "p2",
        "look",
        "Look first: it goes in to assist",
        (birch_is_free, time_comes, g1_out, say("give ash-birch p2 assisting")),
    ),
    Case("a closed direction", "r3", "wait", "Not yet: no train may run up in ash-birch", section='directions = ["down"]\n'),
    # --- tokens
    Case(
        "the token lies here",
        "g1",
        "wait",
        "Not yet: the token is to be taken first; it lies here.",
        rule=TOK,
        more=RESTS,
        source="6.6",
    ),
    Case(
        "it has the token",
        "g1",
        "yes",
        "May go: it has the token, and ash-birch is clear.",
        (time_comes, lift),
        TOK,
        RESTS,
        source="6.7",
    ),
    Case("the token is with another", "p2", "wait", "Not yet: g1 to go first", (time_comes, lift), TOK, RESTS, source="6.7"),
    Case(
        "the token is at the other end",
        "r3",
        "wait",
        "Not yet: the token lies at ash.",
        (say("cancel g1"), say("cancel p2"), time_comes),
        TOK,
        RESTS,
    ),
    Case("a token is only assumed", "g1", "look", "Look first: the token is only assumed to lie at ash.", rule=TOK),
    Case(
        "the staff",
        "g1",
        "wait",
        "Not yet: the staff or a ticket is to be taken first; it lies here.",
        rule=STAFF,
        more=RESTS,
        source="6.8",
    ),
    Case(
        "a ticket",
        "g1",
        "yes",
        "May go: it has the ticket",
        (time_comes, say("give ash-birch g1 ticket")),
        STAFF,
        RESTS,
        source="6.9",
    ),
    Case(
        "a token lifted before the section is proved clear",
        "r3",
        "look",
        "Look first: the last vehicle of g1",
        (
            say("cancel p2"),
            say("stands e2 ash.dock"),
            time_comes,
            lift,
            g1_out,
            g1_in_unproved,
            lay_at_birch,
            say("give ash-birch r3"),
        ),
        TOK,
        RESTS,
    ),
    # --- its way
    Case(
        "the bridge is open",
        "g1",
        "wait",
        "Not yet: ash-birch to be closed and locked; bridge does not prove it.",
        (see("bridge", "off"), time_comes),
        more=("bridge",),
    ),
    Case(
        "nobody knows of the bridge",
        "g1",
        "look",
        "Look first: whether ash-birch is locked is unknown: bridge",
        more=("bridge",),
    ),
    Case("the bridge is closed", "g1", "yes", "May go", BRIDGE, more=("bridge",)),
    Case(
        "its booked road is taken",
        "g1",
        "wait",
        "Not yet: w4 is in the way on birch.main.",
        (say("stands w4 birch.main"), time_comes),
    ),
    Case("work here", "g1", "wait", "Not yet: 1 wagon to lift here.", moves=HEAD + "w2,ash.dock,birch.dock,g1,\n"),
    Case(
        "two things to do",
        "g1",
        "wait",
        "Not yet: 2 wagons to lift here.",
        moves=HEAD + "w2,ash.dock,birch.dock,g1,\nw4,ash.dock,birch.dock,g1,\n",
    ),
)
