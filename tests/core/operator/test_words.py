"""Every word of outcomes.md "What an operator may tell", and what is answered to words that cannot be read."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.core.operator.words import (
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
    Misword,
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
    parse,
    unknown,
)
from bridge.core.plan import Railway, Vehicle, Working
from bridge.core.plant import Detector, DetectorKind, Plant, Road, RoadKind, Section, SectionRule, Station, Throat

EVERY: list[tuple[str, Word]] = [
    ("begin 19:00", Begin(68_400.0)),
    ("stop-clock", StopClock()),
    ("go-on", GoOn()),
    ("end", End()),
    ("give alder-birch g1", Give("alder-birch", "g1")),
    ("give alder-birch g1 ticket", Give("alder-birch", "g1", "ticket")),
    ("give alder-birch g1 assisting", Give("alder-birch", "g1", "assisting")),
    ("return alder-birch g1", Return("alder-birch", "g1")),
    ("depart g1", Depart("g1")),
    ("arrive g1 alder.dock", Arrive("g1", "alder.dock")),
    ("lifts g1 w7", Lifts("g1", "w7")),
    ("sets-out g1 w7 alder.dock", SetsOut("g1", "w7", "alder.dock")),
    ("stands w7 alder.dock", Stands("w7", "alder.dock")),
    ("stands w7 alder.dock 2", Stands("w7", "alder.dock", 2)),
    ("stands w7 off", Stands("w7", "off")),
    ("tag 04A1003B68 w7", Tag("04A1003B68", "w7")),
    ("engine g1 e2", Engine("g1", "e2")),
    ("cancel g1", Cancel("g1")),
    ("extra e2 evening-goods", Extra("e2", "evening-goods")),
    ("acknowledge i3", Acknowledge("i3")),
    ("explain i3 the dock  was full, we asked", Explain("i3", "the dock  was full, we asked")),
    ("verdict i3 real", Verdict("i3", "real")),
    ("verdict i3 false", Verdict("i3", "false")),
    ("verdict i3 mine", Verdict("i3", "mine")),
    ("mute alder-dock", Mute("alder-dock")),
    ("unmute alder-dock", Unmute("alder-dock")),
    ("undo 412", Undo(412)),
]


@pytest.mark.parametrize(("words", "word"), EVERY)
def test_every_word_is_read(words: str, word: Word) -> None:
    assert parse(words) == word


@pytest.mark.parametrize(("words", "word"), EVERY)
def test_spaces_and_the_case_of_the_keyword_do_not_matter(words: str, word: Word) -> None:
    keyword, _, rest = words.partition(" ")
    assert parse(f"  {keyword.upper()}   {rest} ") == word


def test_small_letters_of_a_tag_and_capitals_of_a_fixed_word_are_read() -> None:
    assert parse("tag 04a1003b68 w7") == Tag("04A1003B68", "w7")
    assert parse("verdict i3 Mine") == Verdict("i3", "mine")
    assert parse("give alder-birch g1 Ticket") == Give("alder-birch", "g1", "ticket")


@pytest.mark.parametrize(
    ("words", "text", "remedy"),
    [
        ("", "Nothing was said.", "begin, stop-clock"),
        ("departs g1", "“departs” is not a word", "Did you mean “depart”? Write: depart TRAIN"),
        ("hurrah", "“hurrah” is not a word", "Write one of: begin, stop-clock"),
        ("depart", "“depart” says too little.", "Write: depart TRAIN"),
        ("depart g1 alder", "“alder” is more than “depart” takes.", "Write: depart TRAIN"),
        ("begin seven", "“seven” is no time of day.", "Write: begin HH:MM, such as begin 19:00"),
        ("give a b later", "“later” is neither “ticket” nor “assisting”.", "Write: give SECTION TRAIN"),
        ("stands w7 alder.dock first", "“first” is not a place in the order", "Write: stands VEHICLE PLACE"),
        ("stands w7 alder.dock 0", "“0” is not a place in the order", "Write: stands VEHICLE PLACE"),
        ("tag 04A w7", "“04A” is no tag: a tag is 4 to 20 hexadecimal digits", "Write: tag TAG VEHICLE"),
        ("tag GG00 w7", "“GG00” is no tag", "Write: tag TAG VEHICLE"),
        ("verdict i3 perhaps", "“perhaps” is neither “real” nor “false” nor “mine”.", "Write: verdict ID"),
        ("undo it", "“it” is not a journal number", "Write: undo N"),
        ("undo ²", "“²” is not a journal number", "Write: undo N"),
        ("undo 99999999999999999999", "is not a journal number", "Write: undo N"),
        ("explain i3", "“explain i3” says too little.", "Write: explain ID REASON"),
        ("extra e2 evening goods", "“goods” is more than “extra” takes.", "the name in one word"),
    ],
)
def test_words_that_cannot_be_read_are_told_with_what_would_be_right(words: str, text: str, remedy: str) -> None:
    word = parse(words)
    assert isinstance(word, Misword)
    assert text in word.text
    assert remedy in word.remedy


@given(st.text())
def test_any_words_have_an_answer(words: str) -> None:
    parse(words)


@given(st.sampled_from([words.split()[0] for words, _ in EVERY]), st.lists(st.text(min_size=1), max_size=4))
def test_any_words_behind_a_keyword_have_an_answer(keyword: str, fields: list[str]) -> None:
    parse(" ".join([keyword, *fields]))


def railway() -> Railway:
    plant = Plant(
        "example", "Example", 76.2, 4,
        {s: Station(s, s.title(), ()) for s in ("alder", "birch")},
        {r: Road(r, r.partition(".")[0], r, RoadKind.SIDING, 500, ("up",)) for r in ("alder.dock", "birch.platform")},
        {"alder.down": Throat("alder.down", "alder", "down"), "birch.up": Throat("birch.up", "birch", "up")},
        {"alder-birch": Section("alder-birch", "alder.down", "birch.up", 5200, SectionRule.TOKEN)},
        {},
        {"alder-dock": Detector("alder-dock", DetectorKind.TRACK, "alder", 3)},
    )  # fmt: skip
    stock = {"e2": Vehicle("e2", "engine", 120), "w7": Vehicle("w7", "wagon", 80)}
    return Railway(plant, stock, (), {"g1": Working("g1", "goods", "e2", ())}, ())


@pytest.mark.parametrize(
    "words",
    [words for words, _ in EVERY] + ["depart e2", "depart x9", "stands w7 alder.down", "stands w7 alder-birch"],
)
def test_known_ids_are_passed(words: str) -> None:
    word = parse(words)
    assert not isinstance(word, Misword)
    assert unknown(word, railway(), trains=["x9"]) is None


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ("depart g2", "No train is called “g2”; did you mean “"),
        ("depart G1", "No train is called “G1”; did you mean “g1”?"),
        ("give alder-brich g1", "No section is called “alder-brich”; did you mean “alder-birch”?"),
        ("return alder-birch zz", "No train is called “zz”."),
        ("arrive g1 dock", "No road is called “dock”; did you mean “alder.dock”?"),
        ("sets-out g1 w7 alder.down", "No road is called “alder.down”; did you mean “alder.dock”?"),
        ("lifts g1 w77", "No vehicle is called “w77”; did you mean “w7”?"),
        ("stands w7 alder.duck", "No road, throat or section is called “alder.duck”; did you mean “alder.dock”"),
        ("tag 04A1 w8", "No vehicle is called “w8”; did you mean “w7”?"),
        ("engine g1 w7", "No engine is called “w7”."),
        ("engine g9 e2", "No working is called “g9”; did you mean “g1”?"),
        ("cancel g9", "No working is called “g9”; did you mean “g1”?"),
        ("extra w7 special", "No engine is called “w7”."),
        ("extra e2 g1", "There is a train called “g1” already: give the extra one another name."),
        ("mute alderdock", "No detector is called “alderdock”; did you mean “alder-dock”?"),
        ("unmute zz", "No detector is called “zz”."),
    ],
)
def test_an_unknown_id_is_named_with_the_nearest_known(words: str, text: str) -> None:
    word = parse(words)
    assert not isinstance(word, Misword)
    told = unknown(word, railway())
    assert told is not None
    assert told.startswith(text)
