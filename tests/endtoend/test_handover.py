"""From one evening to the next: what crews have really left where is what the folder says afterwards."""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import httpx
import pytest

from bridge.cli.run import again
from bridge.dashboard import Listening, create_app, listen
from bridge.dashboard.answers import Offer
from bridge.folder import load
from bridge.service.core import CORE
from bridge.service.handover import Handover
from bridge.service.loop import Service
from bridge.service.resuming import take_up
from bridge.virtual.recording import Recording
from bridge.wire.records import Record, Said

from .demonstration import crewed, folder, railway

TOGETHER = 50


def in_sheets(records: Sequence[Record]) -> Iterator[list[Record]]:
    """Records as they come together: `end` is the last of its session, and of its sheet."""
    sheet: list[Record] = []
    for record in records:
        sheet.append(record)
        if len(sheet) == TOGETHER or (isinstance(record, Said) and record.words == "end"):
            yield sheet
            sheet = []
    if sheet:
        yield sheet


class Evening:
    """An evening of the demonstration railway worked by crews and journalled, and the service started on it afterwards."""

    def __init__(self, place: Path, seed: int, chosen: tuple[str, ...]) -> None:
        self.home = Path(shutil.copytree(folder(), place / "railway"))
        self.store = place / "evening.store"
        evening = crewed().evening(seed, chosen)
        recording = Recording(evening)
        recording.run()
        self.truth: dict[str, Any] = json.loads(evening.truth_json())
        read_again = again(self.home, railway().plant.id)
        before = take_up(self.store, load(self.home), CORE, folder_again=read_again)
        for sheet in in_sheets(recording.records):
            before.desk.take(sheet)
        before.desk.close()
        resumed = take_up(self.store, load(self.home), CORE, folder_again=read_again)
        self.service = Service(resumed, [], CORE, log=lambda text: None)
        self.page: Listening = listen(
            create_app(self.service, after=Handover(self.home, self.store, self.service)), "127.0.0.1", 0
        )
        self._thread = threading.Thread(target=self.service.run)
        self._thread.start()

    def stop(self) -> None:
        self.service.stop()
        self._thread.join(20)
        self.page.stop()


@pytest.fixture(scope="module", params=[(1, ()), (3, ("missed-lift",))], ids=["clean", "missed-lift"])
def evening(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Evening]:
    seed, chosen = request.param
    made = Evening(tmp_path_factory.mktemp("handed-over"), seed, chosen)
    yield made
    made.stop()


def test_what_is_written_down_is_what_is_true_and_the_next_evening_begins_there(evening: Evening) -> None:
    known = {(f.level, f.message) for f in load(evening.home).findings}
    with httpx.Client(base_url=evening.page.url, timeout=60) as http:
        offer = http.get("/api/after").json()
        Offer.model_validate(offer)
        answer = http.post("/api/after", json={"token": offer["token"]}).json()
    assert answer["accepted"], answer
    found = load(evening.home)
    assert [f for f in found.findings if f.level == "fault" and (f.level, f.message) not in known] == []
    assert found.railway is not None
    true = {v: (row["place"], row["order"]) for v, row in evening.truth["vehicles"].items() if row["place"] != "off"}
    assert {s.vehicle: (s.place, s.order) for s in found.railway.standing} == true
    undone = {(move["vehicle"], move["to"]) for move in evening.truth["moves"] if not move["done"]}
    assert {(row["vehicle"], row["end"]) for row in offer["moves"]} == undone
    assert [row["start"] for row in offer["moves"]] == [true[row["vehicle"]][0] for row in offer["moves"]]
    assert (evening.home / "moves next.csv").exists() == bool(undone)
    places = {v: (row["place"], row["order"]) for v, row in evening.service.latest().snapshot["vehicles"].items()}
    assert {v: places[v] for v in true} == true
