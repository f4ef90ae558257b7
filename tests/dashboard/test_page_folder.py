"""Beside a session the page shows how the folder stands now, and what it still lacks; what is in force is not touched."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bridge.dashboard import create_app, create_founding, listen
from bridge.folder import load
from bridge.service.founding import Founding

pytestmark = pytest.mark.wires
RAILWAY = Path(__file__).parent.parent / "recordings" / "railway"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(RAILWAY, tmp_path / "oxlip")
    return tmp_path / "oxlip"


@pytest.fixture
def page(browser: Any, door: Any, folder: Path) -> Iterator[Any]:
    """The page of a session that waits to begin."""
    (folder / "moves.csv").write_text("vehicle,from,to\n", encoding="utf-8")
    door.show(lambda s: s["session"].update(state="waiting", clock=None, clock_running=False))
    ground = Founding(folder, load(folder), in_session=True)
    listening = listen(create_app(door, ground=ground), "127.0.0.1", 0)
    context = browser.new_context(viewport={"width": 360, "height": 740})
    opened = context.new_page()
    complaints: list[str] = []
    opened.on("pageerror", lambda error: complaints.append(str(error)))
    opened.goto(f"{listening.url}#begin")
    opened.wait_for_selector("#folder")
    yield opened
    context.close()
    listening.stop()
    assert complaints == []


def test_what_is_lacking_and_what_check_says_stand_on_the_page(page: Any, folder: Path, door: Any) -> None:
    part = page.locator("#folder")
    assert str(folder) in part.inner_text()
    assert [code.inner_text() for code in part.locator("dt").all()] == ["moves.csv"]
    page.wait_for_function("() => document.documentElement.scrollWidth <= innerWidth")
    (folder / "stock.csv").write_text("vehicle,kind,length\nw1,<b>balloon</b>,104\n", encoding="utf-8")
    part.get_by_role("button", name="Look again").click()
    part.get_by_text("the session goes on with what it began with").wait_for()
    part.locator("summary").click()
    meant = part.locator("[data-finding=fault]", has_text="stock.csv, line 2").first.locator(".is-meant")
    assert "w1,<b>balloon</b>,104" in meant.inner_text()
    page.wait_for_function("() => document.documentElement.scrollWidth <= innerWidth")
    shutil.copy(RAILWAY / "stock.csv", folder)
    part.get_by_role("button", name="Look again").click()
    part.get_by_text("They come into force with the next session.").wait_for()
    assert door.told == []


def test_a_page_of_a_session_leads_to_the_guide_where_there_is_none_any_more(browser: Any, door: Any, folder: Path) -> None:
    listening = listen(create_app(door), "127.0.0.1", 0)
    context = browser.new_context()
    opened = context.new_page()
    opened.goto(f"{listening.url}#line")
    opened.wait_for_selector(".page")
    listening.stop()
    (folder / "railway.toml").write_text("[railway]\n", encoding="utf-8")
    again = listen(create_founding(Founding(folder, load(folder))), "127.0.0.1", listening.port)
    try:
        opened.locator("[data-finding=fault]").first.wait_for()
    finally:
        context.close()
        again.stop()
