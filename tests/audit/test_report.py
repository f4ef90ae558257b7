"""The report page: complete, well formed, alone, and never a carrier of markup from a name."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

import pytest

from bridge.audit.account import Account
from bridge.audit.irregularities import by_kind, every, irregularities
from bridge.audit.papers import papers
from bridge.audit.report import report_html
from bridge.wire.capture import CaptureFault, read_capture

VOID = {"meta", "link", "img", "br", "hr", "input"}


class Page(HTMLParser):
    """Reads a page strictly: every element closed in order; keeps elements, texts and what was struck."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.struck = ""
        self.preformatted = ""
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self.open:
            return
        self.text += data
        self.struck += data if "del" in self.open else ""
        self.preformatted += data if "pre" in self.open else ""


@pytest.fixture
def page(told: Any) -> Page:
    return Page(report_html(told.account()))


def test_markup_in_names_is_text(page: Page) -> None:
    assert {tag for tag, _ in page.elements}.isdisjoint({"script", "img", "b", "i", "link"})
    for nasty in ('<script>alert("1")</script> & <b>Alder</b>', '"><img src=x>', "<i>w2</i> was left behind", "Pat <b>"):
        assert nasty in page.text


def test_it_refers_to_nothing_outside(page: Page, told: Any) -> None:
    for tag, attributes in page.elements:
        assert not {"src", "srcset", "style", "action", "data"} & set(attributes), tag
        assert (attributes.get("href") or "#").startswith("#")
    assert not re.search(r"url\(|@import|https?:", report_html(told.account()))


def test_every_link_has_its_chapter(page: Page) -> None:
    anchors = {attributes["id"] for _, attributes in page.elements if "id" in attributes}
    links = {(attributes["href"] or "")[1:] for tag, attributes in page.elements if tag == "a"}
    assert links == anchors


def test_every_move_and_every_vehicle_appears(page: Page, told: Any) -> None:
    moves = page.text[page.text.index("What became of every move") :]
    assert moves.count("coal, <b>best</b>") == 1
    for words in ("probably done", "carried over"):
        assert words in moves
    for vehicle in told.railway.stock.values():
        assert f"{vehicle.painted} ({vehicle.id})" in page.text


def test_what_was_corrected_is_struck_with_what_stands_instead(page: Page, told: Any) -> None:
    stands = next(row["n"] for row in told.outcomes if row["says"] == "arrived" and row["late"] == -204)
    assert "g1 came to Birch, platform, 7 min early" in page.struck
    assert "g1 came to Birch, platform, 3 min early" in page.text
    assert "3 min early" not in page.struck
    assert f"instead {stands}: g1 came to Birch" in page.text
    assert "overdue of i4" in page.struck


def test_evidence_is_shown_on_demand_by_journal_number(page: Page) -> None:
    assert "     6  160.000000 serial-alder report alder 1 2 160000 1 on*" in page.preformatted
    assert ("details", {}) in page.elements


def test_the_head_says_how_it_went(page: Page) -> None:
    for words in (
        "From 19:00:00 to 19:27:56",
        "1 of 1 trains were seen to run. The latest was g1, 1 min late.",
        "3 moves were booked: 1 done, 1 probably done, 1 carried over.",
        "1 danger, 2 cautions. 2 still open at the end.",
        "2 statements were corrected",
    ):
        assert words in page.text


def test_an_irregularity_lasts_from_when_it_happened_to_when_its_end_was_said(page: Page) -> None:
    assert "From 19:17:52 to 19:18:36, i3" in page.text


def test_boards_and_verdicts_are_told(page: Page) -> None:
    assert "its reports carry no number: losses cannot be proved" in page.text
    assert "1 bad-sum" in page.text
    assert "Somebody's verdict: their own doing" in page.text


def test_what_was_said_and_judged_is_counted_by_kind(told: Any) -> None:
    account = told.account()
    items = irregularities(account)
    rows = by_kind(account, items)
    assert sum(row.said for row in rows) == len({row["id"] for row in told.outcomes if row["says"] == "irregularity"})
    first = next(item for item in every(items) if item.id == "i1")
    mine = {row.kind: row.mine for row in rows if row.mine}
    assert mine == {first.last["kind"]: 1}
    assert not any(row.real or row.false for row in rows)
    assert "Counted by kind" in Page(report_html(account)).text


def test_a_session_of_nothing_makes_a_page(railway: Any) -> None:
    text = Page(report_html(Account(railway, ()))).text
    assert "No session was begun." in text
    assert "nothing is known of it" in text


def test_a_session_left_open_says_so(told: Any) -> None:
    assert "It was not ended" not in report_html(told.account())
    del told.records[-1]
    assert "It was not ended" in report_html(told.account())


def test_control_characters_do_not_reach_the_page(told: Any) -> None:
    told.wrong(300.0, "19:20:00", "i9", "overdue", text="bell\x07 and nul\x00")
    assert not re.search(r"[\x00-\x08\x0b-\x1f]", report_html(told.account()))


def test_the_papers_are_the_same_each_time_and_the_capture_reads_back(told: Any) -> None:
    made = papers(told.account())
    assert made == papers(told.account())
    texts = {"report.html", "register.csv", "moves.csv", "whereabouts.csv", "session.capture"}
    assert set(made) == texts | {"session.xes", "session.ocel.json"}
    read = list(read_capture(made["session.capture"].splitlines()))
    assert not [fault for fault in read if isinstance(fault, CaptureFault)]
    assert len(read) == len(told.records)
