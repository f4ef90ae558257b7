"""What a session hands over: from `end` to the next `begin`, live, after a restart, and without a service."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

from bridge.cli import main
from bridge.cli.run import again
from bridge.folder import FolderRead, load
from bridge.service.core import CORE
from bridge.service.handover import CHANGED, NONE_YET, NOTHING_NEW, RUNNING, Handover

from .conftest import RAILWAY, Live

NOW = datetime(2026, 11, 26, 21, 14, 37)


@pytest.fixture
def home(tmp_path: Path) -> Path:
    return Path(shutil.copytree(RAILWAY, tmp_path / "oxlip"))


@pytest.fixture
def live(home: Path, go_live: Callable[..., Live]) -> Callable[[], Live]:
    """Start the service of that folder."""
    return lambda: go_live(CORE, folder=load(home), folder_again=again(home, "oxlip"))


def after_of(home: Path, running: Live | None, store: Path) -> Handover:
    return Handover(home, store, None if running is None else running.service, now=lambda: NOW)


def held(told: str) -> list[str]:
    """The evening so far: words that are told."""
    return ["begin 19:00", *told.split("; "), "end"] if told else ["begin 19:00", "end"]


def stands(home: Path) -> dict[str, tuple[str, int]]:
    found = load(home).railway
    assert found is not None
    return {row.vehicle: (row.place, row.order) for row in found.standing}


def test_it_is_there_from_the_end_until_the_next_begin(home: Path, live: Callable[[], Live], store: Path) -> None:
    running = live()
    after = after_of(home, running, store)
    assert (after.offer()["token"], after.offer()["text"]) == (None, NONE_YET)
    running.tell("begin 19:00")
    assert (after.offer()["token"], after.offer()["text"]) == (None, RUNNING)
    running.tell("stands w5 marrow.loop 1")
    running.tell("end")
    offer = after.offer()
    assert (offer["session"], offer["written"]) == (1, False)
    assert [(row["vehicle"], row["change"], row["place"]) for row in offer["vehicles"] if row["change"]] == [
        ("w5", "moved", "marrow.loop")
    ]
    running.tell("begin 20:00")
    assert after.offer()["text"] == RUNNING
    assert after.agree(offer["token"]).text == RUNNING
    assert (home / "whereabouts.csv").read_bytes() == (RAILWAY / "whereabouts.csv").read_bytes()


def test_the_next_session_begins_with_what_was_written(home: Path, live: Callable[[], Live], store: Path) -> None:
    running = live()
    after = after_of(home, running, store)
    for words in held("stands w5 marrow.loop 1"):
        running.tell(words)
    answer = after.agree(after.offer()["token"])
    assert answer.accepted, answer.text
    assert answer.text == (
        "Written down: moves next.csv, whereabouts 2026-11-26 2114.csv, whereabouts.csv. The next session begins with it."
    )
    assert stands(home)["w5"] == ("marrow.loop", 1)
    offer = after.offer()
    assert offer["written"]
    assert after.agree(offer["token"]).text == NOTHING_NEW
    running.said.clear()
    running.tell("begin 19:00")
    running.wait(lambda: any(row["says"] == "whereabouts" and row["vehicle"] == "w5" for row in running.said))
    place = next(row["place"] for row in running.said if row["says"] == "whereabouts" and row["vehicle"] == "w5")
    assert place == "marrow.loop"


def test_what_is_told_by_eye_after_the_end_is_written_down_too(home: Path, live: Callable[[], Live], store: Path) -> None:
    running = live()
    after = after_of(home, running, store)
    for words in held(""):
        running.tell(words)
    old = after.offer()["token"]
    answer = running.tell("stands w5 marrow.loop", "mo")
    assert answer.text == "w5 stands on marrow.loop: noted for when it is written down."
    assert "nowhere" in running.tell("stands w5 nowhere").text
    assert running.tell("arrive g1 marrow.loop").text == "No session runs: begin one first."
    assert after.agree(old).text == CHANGED
    assert after.agree(after.offer()["token"]).accepted
    assert stands(home)["w5"] == ("marrow.loop", 1)
    running.tell("stands w5 marrow.platform")
    assert after.agree(after.offer()["token"]).accepted, "it was written here, so it may be written again"
    assert stands(home)["w5"] == ("marrow.platform", 1)


def test_it_is_the_same_after_a_restart(home: Path, live: Callable[[], Live], store: Path) -> None:
    first = live()
    for words in held("stands w5 marrow.loop 1"):
        first.tell(words)
    first.tell("stands w8 oxlip.quay")
    offer = after_of(home, first, store).offer()
    first.stop()
    second = live()
    second.tell("stands w99 oxlip.quay")
    after = after_of(home, second, store)
    assert after.offer() == offer == after_of(home, None, store).offer()
    assert after.agree(offer["token"]).accepted
    assert (stands(home)["w5"], stands(home)["w8"]) == (("marrow.loop", 1), ("oxlip.quay", 1))


def test_a_file_that_somebody_else_has_changed_is_left_alone(home: Path, live: Callable[[], Live], store: Path) -> None:
    running = live()
    for words in held("stands w5 marrow.loop 1"):
        running.tell(words)
    after = after_of(home, running, store)
    token = after.offer()["token"]
    theirs = (home / "whereabouts.csv").read_text().replace("w3,marrow.mill,1\n", "w3,thistle.coal,1\n")
    (home / "whereabouts.csv").write_text(theirs)
    answer = after.agree(token)
    assert not answer.accepted
    assert "has changed since session 1 read it" in answer.text
    assert (home / "whereabouts.csv").read_text() == theirs
    assert sorted(path.name for path in home.glob("* *.csv")) == []


def test_the_command_shows_it_and_writes_it_once_agreed(
    home: Path, live: Callable[[], Live], store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def command(*words: str) -> tuple[int, str, str]:
        code = main(["handover", str(home), "--store", str(store), *words])
        printed: Any = capsys.readouterr()
        return code, printed.out, printed.err

    assert command()[0] == 1
    running = live()
    for words in held("stands w5 marrow.loop 1"):
        running.tell(words)
    code, shown, _ = command()
    assert (code, "w5: moved from oxlip.quay, marrow.loop 1" in shown) == (0, True), shown
    token = shown.split()[-1]
    code, _, told = command("--agree", token)
    assert (code, "stop that one first" in told) == (1, True), "while a service runs it is agreed to there"
    running.stop()
    code, _, told = command("--agree", "0" * 12)
    assert (code, CHANGED in told) == (1, True)
    code, shown, _ = command("--agree", token)
    assert (code, shown.startswith("Written down: ")) == (0, True)
    assert stands(home)["w5"] == ("marrow.loop", 1)
    assert command("--json")[1].startswith('{"session": 1')


def test_without_a_session_or_a_store_there_is_nothing(home: Path, store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["handover", str(home), "--store", str(store), "--agree", "x"]) == 1
    assert "There is no store" in capsys.readouterr().err
    assert main(["handover", str(home / "nowhere")]) == 1


def test_a_folder_that_is_not_to_be_had_again_is_not_taken_up(store: Path, folder: FolderRead, go_live: Any) -> None:
    running = go_live(CORE, folder=folder, folder_again=lambda: None)
    assert running.service.renew().result(10) is False
    assert running.service.latest().snapshot["session"]["state"] == "waiting"
