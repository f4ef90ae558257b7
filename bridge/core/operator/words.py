"""What an operator may tell, as values: the grammar of the words, and which of the ids in them nobody knows.

Rule: `parse` judges the grammar alone and never raises; `unknown` alone looks ids up. Words that cannot be read become a
`Misword` that says what stands there and what would be right.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass

from bridge.core.clock import parse_clock
from bridge.core.operator.word_values import (
    Acknowledge,
    Arrive,
    Begin,
    Cancel,
    Depart,
    End,
    Engine,
    Explain,
    Extra,
    Give,
    GoOn,
    Lifts,
    Mute,
    Return,
    SetsOut,
    Stands,
    StopClock,
    Tag,
    Undo,
    Unmute,
    Verdict,
    Word,
)
from bridge.core.plan import Railway

__all__ = [
    "Acknowledge",
    "Arrive",
    "Begin",
    "Cancel",
    "Depart",
    "End",
    "Engine",
    "Explain",
    "Extra",
    "Give",
    "GoOn",
    "Lifts",
    "Misword",
    "Mute",
    "Return",
    "SetsOut",
    "Stands",
    "StopClock",
    "Tag",
    "Undo",
    "Unmute",
    "Verdict",
    "Word",
    "parse",
    "unknown",
]


@dataclass(frozen=True, slots=True)
class Misword:
    """Words that could not be read: what stands there, and what would be right."""

    text: str
    remedy: str


class _UnreadError(Exception):
    """What one field of the words is not; becomes a `Misword` before it leaves this module."""


def parse(words: str) -> Word | Misword:
    """Read one operator's words. Spaces more or less and the case of the first word do not matter; ids stand as told."""
    keyword, *fields = words.split() or [""]
    form = _FORMS.get(keyword.lower())
    if form is None:
        return _no_such_word(keyword)
    usage, least, most, read = form
    if most is None:  # the last field runs to the end of the words
        fields = words.split(maxsplit=least)[1:]
    remedy = f"Write: {usage}"
    if len(fields) < least:
        return Misword(f"“{' '.join(words.split())}” says too little.", remedy)
    if most is not None and len(fields) > most:
        return Misword(f"“{' '.join(fields[most:])}” is more than “{keyword.lower()}” takes.", remedy)
    try:
        return read(fields)
    except _UnreadError as fault:
        return Misword(str(fault), remedy)


def _no_such_word(keyword: str) -> Misword:
    if not keyword:
        return Misword("Nothing was said.", f"Write one of: {', '.join(_FORMS)}")
    close = difflib.get_close_matches(keyword.lower(), _FORMS, n=1)
    if close:
        return Misword(f"“{keyword}” is not a word known here.", f"Did you mean “{close[0]}”? Write: {_FORMS[close[0]][0]}")
    return Misword(f"“{keyword}” is not a word known here.", f"Write one of: {', '.join(_FORMS)}")


def _begin(fields: list[str]) -> Word:
    clock_s = parse_clock(fields[0])
    if clock_s is None:
        raise _UnreadError(f"“{fields[0]}” is no time of day.")
    return Begin(clock_s)


def _give(fields: list[str]) -> Word:
    how = fields[2].lower() if len(fields) == 3 else None
    if how not in (None, "ticket", "assisting"):
        raise _UnreadError(f"“{fields[2]}” is neither “ticket” nor “assisting”.")
    return Give(fields[0], fields[1], how)


def _stands(fields: list[str]) -> Word:
    order = _count(fields[2], "a place in the order") if len(fields) == 3 else None
    return Stands(fields[0], fields[1], order)


def _tag(fields: list[str]) -> Word:
    tag = fields[0].upper()
    if re.fullmatch(r"(?:[0-9A-F]{2}){2,10}", tag) is None:
        raise _UnreadError(f"“{fields[0]}” is no tag: a tag is 4 to 20 hexadecimal digits (0 to 9, A to F), an even number.")
    return Tag(tag, fields[1])


def _verdict(fields: list[str]) -> Word:
    if fields[1].lower() not in ("real", "false", "mine"):
        raise _UnreadError(f"“{fields[1]}” is neither “real” nor “false” nor “mine”.")
    return Verdict(fields[0], fields[1].lower())


def _count(text: str, what: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 9 and int(text) > 0):
        raise _UnreadError(f"“{text}” is not {what}: that is a number from 1.")
    return int(text)


_FORMS: dict[str, tuple[str, int, int | None, Callable[[list[str]], Word]]] = {
    "begin": ("begin HH:MM, such as begin 19:00", 1, 1, _begin),
    "stop-clock": ("stop-clock", 0, 0, lambda f: StopClock()),
    "go-on": ("go-on", 0, 0, lambda f: GoOn()),
    "end": ("end", 0, 0, lambda f: End()),
    "give": ("give SECTION TRAIN, and if need be ticket or assisting behind it", 2, 3, _give),
    "return": ("return SECTION TRAIN", 2, 2, lambda f: Return(*f)),
    "depart": ("depart TRAIN", 1, 1, lambda f: Depart(*f)),
    "arrive": ("arrive TRAIN ROAD", 2, 2, lambda f: Arrive(*f)),
    "lifts": ("lifts TRAIN VEHICLE", 2, 2, lambda f: Lifts(*f)),
    "sets-out": ("sets-out TRAIN VEHICLE ROAD", 3, 3, lambda f: SetsOut(*f)),
    "stands": ("stands VEHICLE PLACE, and its number from the up end if known", 2, 3, _stands),
    "tag": ("tag TAG VEHICLE", 2, 2, _tag),
    "engine": ("engine WORKING VEHICLE", 2, 2, lambda f: Engine(*f)),
    "cancel": ("cancel WORKING", 1, 1, lambda f: Cancel(*f)),
    "extra": ("extra ENGINE NAME, the name in one word", 2, 2, lambda f: Extra(*f)),
    "acknowledge": ("acknowledge ID", 1, 1, lambda f: Acknowledge(*f)),
    "explain": ("explain ID REASON", 2, None, lambda f: Explain(f[0], f[1].strip())),
    "verdict": ("verdict ID real, false or mine", 2, 2, _verdict),
    "mute": ("mute DETECTOR", 1, 1, lambda f: Mute(*f)),
    "unmute": ("unmute DETECTOR", 1, 1, lambda f: Unmute(*f)),
    "undo": ("undo N, the journal number of the word to take back", 1, 1, lambda f: Undo(_count(f[0], "a journal number"))),
}


def unknown(word: Word, railway: Railway, trains: Collection[str] = ()) -> str | None:
    """In plain language, the first id in the words that the railway does not know; None where it knows them all.

    `trains`: ids of trains beyond the timetable (extras, unbooked engines). Ids of irregularities and journal numbers are
    not looked up. Any engine may be told as a train: an unbooked one is named so.
    """
    for what, told, known in _ids(word, railway, trains):
        if told not in known:
            return f"No {what} is called “{told}”{_meant(told, known)}"
    if isinstance(word, Extra) and word.name in {*railway.workings, *trains}:
        return f"There is a train called “{word.name}” already: give the extra one another name."
    return None


def _ids(word: Word, railway: Railway, trains: Collection[str]) -> list[tuple[str, str, Collection[str]]]:
    """What each id in the words should be, the id, and all that it could be."""
    plant = railway.plant
    engines = [vehicle.id for vehicle in railway.stock.values() if vehicle.kind == "engine"]
    workings = [*railway.workings, *trains]
    every = [*workings, *engines]
    match word:
        case Give(section, train) | Return(section, train):
            return [("section", section, plant.sections), ("train", train, every)]
        case Depart(train):
            return [("train", train, every)]
        case Arrive(train, road):
            return [("train", train, every), ("road", road, plant.roads)]
        case Lifts(train, vehicle):
            return [("train", train, every), ("vehicle", vehicle, railway.stock)]
        case SetsOut(train, vehicle, road):
            return [("train", train, every), ("vehicle", vehicle, railway.stock), ("road", road, plant.roads)]
        case Stands(vehicle, place):
            places = [*plant.roads, *plant.throats, *plant.sections, "off"]
            return [("vehicle", vehicle, railway.stock), ("road, throat or section", place, places)]
        case Tag(_, vehicle):
            return [] if vehicle is None else [("vehicle", vehicle, railway.stock)]
        case Engine(working, vehicle):
            return [("working", working, workings), ("engine", vehicle, engines)]
        case Cancel(working):
            return [("working", working, workings)]
        case Extra(engine, _):
            return [("engine", engine, engines)]
        case Mute(detector) | Unmute(detector):
            return [("detector", detector, plant.detectors)]
        case _:
            return []


def _meant(told: str, known: Iterable[str]) -> str:
    """The nearest known ids as a question: a road by its short id, an id in other letters, a slip of the finger."""
    rows = sorted(set(known))
    short = [name for name in rows if name.partition(".")[2] == told.lower()]
    close = short or difflib.get_close_matches(told.lower(), rows, n=2, cutoff=0.5)
    return f"; did you mean {' or '.join(f'“{name}”' for name in close)}?" if close else "."
