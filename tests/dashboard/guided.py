"""A folder, and the guide to it in a real browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from bridge.dashboard import Listening, create_founding, listen
from bridge.folder import FolderRead, load
from bridge.service.founding import Founding


class Guide:
    """A folder, the page that leads through it, and what came of it."""

    def __init__(self, folder: Path, browser: Any) -> None:
        self.folder = folder
        self.good: list[FolderRead] = []
        self.complaints: list[str] = []
        self.ground = Founding(folder, load(folder), on_good=self.good.append)
        self.listening: Listening = listen(create_founding(self.ground), "127.0.0.1", 0)
        self.context = browser.new_context(viewport={"width": 360, "height": 740}, reduced_motion="reduce")
        self.page = self.context.new_page()
        self.page.set_default_timeout(10_000)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        self.page.goto(self.listening.url)
        self.page.wait_for_selector("h1")

    def close(self) -> None:
        self.context.close()
        self.listening.stop()
        assert self.complaints == []

    def field(self, name: str) -> Any:
        return self.page.locator(f'[id="f-{name}"]')

    def fill(self, **fields: str) -> None:
        for name, text in fields.items():
            self.field(name.replace("__", ".")).fill(text)

    def next(self, step: str) -> None:
        """Press the first button; until that step is asked."""
        self.page.locator(".guide-bar .is-first").click()
        self.page.wait_for_selector(f"[data-step={step}]")

    def name_stations(self, *names: str) -> None:
        """From the first step on, until the line passes these; two are asked for at first."""
        self.fill(name="Alder Vale")
        self.next("stations")
        for n, name in enumerate(names):
            if n >= 2:  # the new one takes the keyboard
                self.page.get_by_role("button", name="Add a station").click()
            self.fill(**{f"stations__{n}__name": name})

    def focused(self) -> str:
        return str(self.page.evaluate("document.activeElement.id"))

    def tab(self, where: str) -> None:
        """The Tab key, until the keyboard is there: a field's place, or what a button says."""
        for _ in range(60):
            self.page.keyboard.press("Tab")
            at = self.page.evaluate("[document.activeElement.id, document.activeElement.textContent]")
            if at[0] == f"f-{where}" or at[1] == where:
                return
        raise AssertionError(f"no Tab leads to {where}")
