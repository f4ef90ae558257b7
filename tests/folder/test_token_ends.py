"""The only token of a section, at the end where the next train needs it or at the other.

Sources: a driver enters a token section only with its token (encyclopaedia article on tokens); with staff and ticket any
number may follow each other (Isle of Man Railway rules of 1922, rule 87).
"""

from __future__ import annotations

from .changed import TEXTS, said

ONE_TAG = ("railway.toml", 'token_tags = ["04A1003B68", "04a1003b69"]', 'token_tags = ["04A1003B68"]')
STOCK = ("stock.csv", "b1,brake", "e3,engine,tank,,150,,,,,,2\nb1,brake")
STANDS = ("whereabouts.csv", "w3,alder.dock,1", "w3,alder.dock,1\ne3,alder.loop,1")
FOLLOWS = TEXTS["timetable.csv"] + "g2,goods,e3,alder,loop,,19:15,,\ng2,goods,e3,birch,platform,19:21,,,\n"


def token(*changes: tuple[str, str, str], **files: str) -> list[tuple[str, str, int, str]]:
    found = (f for f in said(*changes, **files) if "token of section" in f.message)
    return [(f.level, f.file, f.line, f.message) for f in found]


def test_trains_to_and_fro() -> None:
    assert token(ONE_TAG) == []


def test_one_that_follows_another() -> None:
    message = "g1 has taken the token of section alder-birch to birch, and g2 (19:15) needs it at alder."
    assert token(ONE_TAG, STOCK, STANDS, timetable=FOLLOWS) == [("advice", "timetable.csv", 8, message)]


def test_several_tokens_lie_at_both_ends() -> None:
    assert token(STOCK, STANDS, timetable=FOLLOWS) == []


def test_with_staff_and_ticket_it_may_follow() -> None:
    tickets = ("railway.toml", 'rule = "token"', 'rule = "staff-and-ticket"')
    assert token(ONE_TAG, STOCK, STANDS, tickets, timetable=FOLLOWS) == []


def test_without_times_nobody_knows_who_goes_first() -> None:
    untimed = FOLLOWS.replace("alder,platform,,19:05,", "alder,platform,,,").replace("loop,,19:15", "loop,,")
    assert token(ONE_TAG, STOCK, STANDS, timetable=untimed) == []
