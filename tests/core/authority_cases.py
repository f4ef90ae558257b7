"""Who may be in a section: every rule of the contract's table of authority, a case each.

Sources: check values, section 6, by the number beside each case: 1 LNER Regulations 1009/1, Absolute Block; 2 and 3 Indian
Railways General Rules, absolute block; 6 and 7 on electric tokens; 8 and 11 A. Williams, How It Works; 9 Findlay, Working
and Management of an English Railway, p. 161, as is 12; 10 Isle of Man Railway rules of 1922, rule 87; 14 driver-training
cards, one-train working; 15 BR 30062/1, track circuit block; 16 GERT8000-TS4, 3.6.4, train out of section; 18 who is exempt
from carrying the token; 20 the reset of axle counters, IRSEM 17.7.5. Where it says so, the case is common practice and has
no source.
"""

from __future__ import annotations

from dataclasses import dataclass

from .authority_steps import (
    Step,
    flickering_line,
    g1_in,
    g1_in_unproved,
    g1_out,
    g1_shunts,
    lay_at_birch,
    lift,
    lift_at_birch,
    p2_out,
    r3_out,
    reset,
    say,
)

NO_SOURCE = "common practice, no source"


@dataclass(frozen=True)
class Case:
    """`told`: what was said of authority, in order, behind the session's beginning; `wrong`: the kinds open at the end."""

    what: str
    source: str
    rule: str
    steps: tuple[Step, ...]
    told: tuple[tuple[str | None, str, str], ...]
    wrong: frozenset[str] = frozenset()


ONE, TOK, STAFF, CIRCUIT = "one-train", "token", "staff-and-ticket", "track-circuit"
CLEAR, WEAK, OUT = "section clear", "evidence weak", "train out of section"
CLASH = frozenset({"section-clash", "no-authority"})
CASES = (
    # --- one-train working
    Case("entering a clear section takes it", "6.12", ONE, (g1_out,), (("g1", "given", CLEAR),)),
    Case(
        "it ends when the train is out complete",
        "6.16",
        ONE,
        (g1_out, g1_in),
        (("g1", "given", CLEAR), ("g1", "returned", OUT)),
    ),
    Case("the second train behind it has none", "6.1, 6.14", ONE, (g1_out, p2_out), (("g1", "given", CLEAR),), CLASH),
    Case("the second train towards it has none", "6.1, 6.3", ONE, (g1_out, r3_out), (("g1", "given", CLEAR),), CLASH),
    Case(
        "once the first is out complete the second takes it",
        "6.16",
        ONE,
        (g1_out, g1_in, p2_out),
        (("g1", "given", CLEAR), ("g1", "returned", OUT), ("p2", "given", CLEAR)),
    ),
    Case(
        "what is reserved is refused to another",
        "6.14",
        ONE,
        (say("give ash-birch p2"), say("give ash-birch g1")),
        (("p2", "given", "told"), ("g1", "refused", "p2 has it")),
    ),
    Case(
        "a return gives it back",
        NO_SOURCE,
        ONE,
        (say("give ash-birch p2"), say("return ash-birch p2"), g1_out),
        (("p2", "given", "told"), ("p2", "returned", "told"), ("g1", "given", CLEAR)),
    ),
    Case("an unknown detector makes it weak", NO_SOURCE, ONE, (say("mute line"), g1_out), (("g1", "given", WEAK),)),
    Case(
        "without proof of the last vehicle the next one's is weak",
        "6.16",
        ONE,
        (g1_out, g1_in_unproved, p2_out),
        (("g1", "given", CLEAR), ("g1", "returned", OUT), ("p2", "given", WEAK)),
    ),
    Case(
        "an operator who has looked makes it clear again",
        NO_SOURCE,
        ONE,
        (g1_out, g1_in_unproved, say("return ash-birch g1"), say("unmute line"), p2_out),
        (("g1", "given", CLEAR), ("g1", "returned", OUT), ("p2", "given", CLEAR)),
    ),
    Case(
        "what says occupied is not clear, whoever is there",
        "6.14",
        ONE,
        (flickering_line, p2_out),
        (),
        frozenset({"no-authority"}),
    ),
    Case(
        "a board that begins anew proves nothing of the train that went in",
        "6.20",
        ONE,
        (g1_out, reset, p2_out),
        (("g1", "given", CLEAR),),
        CLASH,
    ),
    Case(
        "nor does it of one that went in towards it",
        "6.2, 6.20",
        ONE,
        (g1_out, reset, r3_out),
        (("g1", "given", CLEAR),),
        CLASH,
    ),
    Case(
        "an operator who has looked clears it of a train that nothing saw come out",
        NO_SOURCE,
        ONE,
        (
            g1_out,
            say("mute line"),
            *(say(f"stands {v} off") for v in ("e1", "w1", "v1")),
            say("return ash-birch g1"),
            p2_out,
        ),
        (("g1", "given", CLEAR), ("g1", "returned", "told"), ("p2", "given", WEAK)),
    ),
    Case("a shunt gives it back", NO_SOURCE, ONE, (g1_shunts,), (("g1", "given", CLEAR), ("g1", "returned", "shunt"))),
    # --- token
    Case("whoever lifts the token has it", "6.6, 6.7", TOK, (lift, g1_out), (("g1", "given", "token lifted"),)),
    Case("without the token there is none", "6.6", TOK, (g1_out,), (), frozenset({"no-authority"})),
    Case(
        "with the token at the other end there is none",
        "6.6",
        TOK,
        (r3_out,),
        (),
        frozenset({"no-authority", "early-departure"}),
    ),
    Case(
        "laid down at the far end, it is over",
        "6.7",
        TOK,
        (lift, g1_out, g1_in, lay_at_birch),
        (("g1", "given", "token lifted"), ("g1", "returned", "birch")),
    ),
    Case(
        "the train out of the section still has it",
        NO_SOURCE,
        TOK,
        (lift, g1_out, g1_in),
        (("g1", "given", "token lifted"),),
    ),
    Case(
        "then it can be drawn at that end",
        "6.7",
        TOK,
        (lift, g1_out, g1_in, lay_at_birch, lift_at_birch, r3_out),
        (("g1", "given", "token lifted"), ("g1", "returned", "birch"), ("r3", "given", "token lifted")),
    ),
    Case(
        "one is out at most",
        "6.7",
        TOK,
        (lift, say("give ash-birch p2")),
        (("g1", "given", "token lifted"), ("p2", "refused", "g1 has it")),
    ),
    Case("it can be told", NO_SOURCE, TOK, (say("give ash-birch g1"), g1_out), (("g1", "given", "told"),)),
    Case("a shunt keeps it", NO_SOURCE, TOK, (lift, g1_shunts), (("g1", "given", "token lifted"),)),
    Case(
        "a second train has none, token or not",
        "6.1",
        TOK,
        (lift, g1_out, p2_out),
        (("g1", "given", "token lifted"),),
        CLASH,
    ),
    # --- staff and ticket
    Case(
        "a ticket, while the staff is at this end",
        "6.8",
        STAFF,
        (say("give ash-birch g1 ticket"), g1_out),
        (("g1", "given", "told"),),
    ),
    Case(
        "a ticket ends with its train",
        NO_SOURCE,
        STAFF,
        (say("give ash-birch g1 ticket"), g1_out, g1_in),
        (("g1", "given", "told"), ("g1", "returned", OUT)),
    ),
    Case(
        "no ticket while the staff is at the other end",
        "6.8, 6.9",
        STAFF,
        (say("give ash-birch r3 ticket"),),
        (("r3", "refused", "the staff is not at birch"),),
    ),
    Case(
        "no ticket once the staff has been given",
        "6.11",
        STAFF,
        (lift, say("give ash-birch p2 ticket")),
        (("g1", "given", "token lifted"), ("p2", "refused", "the staff is not at ash")),
    ),
    Case(
        "the last one carries the staff",
        "6.9, 6.10",
        STAFF,
        (say("give ash-birch g1 ticket"), g1_out, g1_in, lift, p2_out),
        (("g1", "given", "told"), ("g1", "returned", OUT), ("p2", "given", "token lifted")),
    ),
    Case(
        "the far end may send nothing until the staff is there",
        "6.9",
        STAFF,
        (say("give ash-birch g1 ticket"), g1_out, g1_in, r3_out),
        (("g1", "given", "told"), ("g1", "returned", OUT)),
        frozenset({"no-authority"}),
    ),
    Case("without staff or ticket there is none", "6.8", STAFF, (g1_out,), (), frozenset({"no-authority"})),
    Case(
        "no tickets where the rule knows none",
        NO_SOURCE,
        ONE,
        (say("give ash-birch g1 ticket"),),
        (("g1", "refused", "this section knows no tickets"),),
    ),
    # --- track circuit block
    Case("all clear lets a train in", "6.15", CIRCUIT, (g1_out,), (("g1", "given", CLEAR),)),
    Case("occupied lets nobody in", "6.15", CIRCUIT, (flickering_line, p2_out), (), frozenset({"no-authority"})),
    Case(
        "nobody against a train let in",
        "6.3",
        CIRCUIT,
        (g1_out, r3_out),
        (("g1", "given", CLEAR),),
        CLASH,
    ),
    Case(
        "nor where its detector is unknown",
        "6.3",
        CIRCUIT,
        (say("mute line"), g1_out, r3_out),
        (("g1", "given", WEAK),),
        CLASH,
    ),
    Case(
        "the next one behind it, once it is out",
        "6.15, 6.16",
        CIRCUIT,
        (g1_out, g1_in, p2_out),
        (("g1", "given", CLEAR), ("g1", "returned", OUT), ("p2", "given", CLEAR)),
    ),
    # --- assisting, under every rule
    *(
        Case(
            f"an assisting train may follow ({rule})",
            "6.18",
            rule,
            (*first, g1_out, say("give ash-birch p2 assisting"), p2_out),
            (("g1", "given", why), ("p2", "given", "told")),
        )
        for rule, first, why in (
            (ONE, (), CLEAR),
            (TOK, (lift,), "token lifted"),
            (STAFF, (lift,), "token lifted"),
            (CIRCUIT, (), CLEAR),
        )
    ),
)
