"""A whole evening on real wires: virtual boards on pseudo-terminals and a broker, the service, its page in a browser."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any

import pytest

from bridge.cli.private_broker import private_broker
from bridge.folder import FolderRead, load
from bridge.journal import Reader
from bridge.service.handover import Handover
from bridge.service.recounting import recount
from bridge.virtual.beside import STANDS_S, Beside
from bridge.virtual.staging import Stage
from bridge.virtual.verdict import held_against

from . import demonstration
from .commands import said_again
from .layout import Layout, Row, Subscriber
from .onlooker import Onlooker

pytestmark = [pytest.mark.wires, pytest.mark.timeout(240)]

FAST = 20.0  # at which every train is in a section for nearly a second of the page
CALM, CALMER = 16.0, 2.0
"""Where it is measured when something is said: slow enough that pictures, which come 0.1 s apart, are no long time."""
IN_TIME_S = 2.0


@pytest.fixture(scope="module")
def broker(need: Callable[[str], str], tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """The port of a broker of our own."""
    need("mosquitto")
    with private_broker(tmp_path_factory.mktemp("broker")) as port:
        assert port is not None
        yield port


@dataclass(frozen=True)
class Clean:
    """What is left of an evening without mistakes. `stood`: what stood on the page, and since which second of the host."""

    layout: Layout
    published: list[str]
    stood: Mapping[str, float]
    walls: Mapping[str, float]
    last_page: str


@pytest.fixture(scope="module")
def clean(
    folder: FolderRead, stages: Stage, browser: Any, broker: int, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Clean]:
    store = tmp_path_factory.mktemp("clean") / "evening.store"
    stranger = Subscriber(stages.railway.plant.id, broker)
    with Layout(folder, stages.evening(1, []), store, broker, FAST) as layout:
        onlooker = Onlooker(browser, layout.listening.url)
        layout.wait(lambda row: row["says"] == "session" and row["state"] == "ended")
        onlooker.page.get_by_text("The session has ended").first.wait_for()
        walls = onlooker.stood()
        last_page = onlooker.page.locator("#page").inner_text()
        onlooker.close()
    stranger.wait_for(len(layout.rows))
    stranger.stop()
    stood = {what: layout.host_s_at(wall) for what, wall in walls.items()}
    yield Clean(layout, stranger.lines, stood, walls, last_page)


def test_it_begins_when_the_crew_says_so(clean: Clean) -> None:
    first = next(row for row in clean.layout.rows if row["says"] == "session")
    assert (first["state"], first["clock"]) == ("started", "19:00:00")


def test_trains_are_on_the_page_where_they_really_are(clean: Clean, stages: Stage) -> None:
    """Each train stood on the page as being in a section while it really was in it."""
    plant = stages.railway.plant
    names = {
        section.id: "–".join(plant.stations[end.split(".")[0]].name for end in (section.from_throat, section.to_throat))
        for section in plant.sections.values()
    }
    events = clean.layout.truth()["events"]
    entered = [event for event in events if event["says"] == "entered"]
    assert len(entered) == sum(len(working.calls) - 1 for working in stages.railway.workings.values())
    for event in entered:
        seen_s = clean.stood[f"{event['train']}: in section {names[event['section']]}"]
        left_s = min(e["t"] for e in events if e["says"] == "cleared" and e["t"] > event["t"] and _same(e, event))
        assert clean.layout.host_s(event["t"]) <= seen_s < clean.layout.host_s(left_s) + IN_TIME_S


def _same(one: Row, other: Row) -> bool:
    return (one["train"], one["section"]) == (other["train"], other["section"])


def test_moves_are_on_the_page_as_they_were_said(clean: Clean, stages: Stage) -> None:
    last = {(row["vehicle"], row["to"]): row for row in clean.layout.rows if row["says"] == "move"}
    assert len(last) == len(stages.railway.moves)
    for row in last.values():
        move = f"{row['train']}: {stages.railway.stock[row['vehicle']].painted} "
        words = row["state"].replace("-", " ")
        assert [what for what in clean.stood if what.startswith(move) and what.endswith(f" {words}")], row


def test_nothing_is_said_to_be_wrong(clean: Clean) -> None:
    assert [row for row in clean.layout.rows if row["says"] == "irregularity"] == []
    assert [what for what in clean.stood if what.startswith(("irregularity", "danger", "trouble"))] == []
    assert "Nothing is wrong." in clean.last_page
    assert clean.layout.log == []


def test_every_vehicle_ends_on_its_true_road(clean: Clean) -> None:
    verdict = held_against(clean.layout.truth(), clean.layout.rows, clean.layout.shift_s)
    assert verdict.misplaced == {}
    assert verdict.vehicles == 47


def test_what_is_handed_over_is_where_every_vehicle_really_stands(clean: Clean, tmp_path: Path) -> None:
    home = Path(shutil.copytree(demonstration.folder(), tmp_path / "railway"))
    after = Handover(home, clean.layout.store)
    assert after.agree(after.offer()["token"]).accepted
    found = load(home).railway
    assert found is not None
    true = {v: (row["place"], row["order"]) for v, row in clean.layout.truth()["vehicles"].items() if row["place"] != "off"}
    assert {s.vehicle: (s.place, s.order) for s in found.standing} == true


def test_at_the_end_nothing_is_wrong_beside_the_truth(clean: Clean) -> None:
    timeline, snapshot = clean.layout.evening.timeline, clean.layout.service.latest().snapshot
    moved = {**snapshot["vehicles"], "w41": {**snapshot["vehicles"]["w41"], "place": "saltgander.quay"}}
    one, other = Beside(clean.layout.evening), Beside(clean.layout.evening)
    one(snapshot)
    other({**snapshot, "vehicles": moved})
    timeline.now_s += STANDS_S
    assert one(snapshot)["wrong"] == []
    (wrong,) = other({**snapshot, "vehicles": moved})["wrong"]
    assert (wrong["vehicles"], wrong["believed"]) == (["w41"], "saltgander.quay")


def test_it_is_soon_on_the_page(clean: Clean, stages: Stage, figure: Callable[[str], None]) -> None:
    """Real time, from what the service says of a train to the page that shows it."""
    waits_ms = []
    for row in clean.layout.rows:
        if row["says"] == "arrived":
            road = stages.railway.plant.roads[row["road"]]
            station = stages.railway.plant.stations[row["station"]]
            wall = clean.walls.get(f"{row['train']}: at {station.name} {road.name or row['road'].split('.')[1]}")
            if wall is not None:
                waits_ms.append((wall - clean.layout.wall(row["t"])) * 1000)
    assert len(waits_ms) >= 8
    figure(
        f"from a line's coming in to the page: median {median(waits_ms):.0f} ms, longest {max(waits_ms):.0f} ms "
        f"({len(waits_ms)} arrivals at {FAST:g} times the speed)"
    )
    assert median(waits_ms) < 1000


def test_what_was_published_live_is_what_a_replay_says(clean: Clean) -> None:
    again = said_again(clean.layout.store)
    assert clean.published == again
    assert [json.dumps(row, ensure_ascii=False) for row in clean.layout.rows] == again
    with Reader.open(clean.layout.store) as reader:
        recounted = recount(reader, reader.sessions()[0])
    assert [json.dumps(outcome.as_dict(), ensure_ascii=False) for outcome in recounted.outcomes] == again


SOON = "19:36:00"
SHOWN = {"lift-missed": "19:44:00", "no-authority": "20:02:00"}
"""Each planted mistake's kind, and from when it is watched for; before the first of them time may go faster."""


def test_a_missed_wagon_and_a_danger_are_on_the_page_in_time(
    folder: FolderRead, stages: Stage, browser: Any, broker: int, tmp_path: Path, figure: Callable[[str], None]
) -> None:
    evening = stages.evening(2, ["no-token", "missed-lift"])
    with Layout(folder, evening, tmp_path / "evening.store", broker, FAST) as layout:
        onlooker = Onlooker(browser, layout.listening.url, 360, 740, at=("line/wrong",))
        onlooker.until_clock(SOON)
        layout.clock.go(CALM)
        for kind, clock in SHOWN.items():
            onlooker.until_clock(clock)
            layout.clock.go(CALMER)
            item_id = layout.wait(lambda row, kind=kind: row["says"] == "irregularity" and row["kind"] == kind)["id"]
            acknowledge(onlooker.page, item_id)
            seen_s = layout.host_s_at(onlooker.stood()[f"irregularity {item_id}"])
            expected = next(each for each in layout.truth()["expected"] if each["kind"] == kind)
            evidence_s, due_s = (layout.host_s(expected[key]) for key in ("evidence_t", "due_t"))
            figure(f"{kind}: on the page {seen_s - evidence_s:.2f} s behind its evidence (due {due_s - evidence_s:.2f} s)")
            assert evidence_s <= seen_s <= due_s + IN_TIME_S
            layout.clock.go(CALM)
        assert seen_s - evidence_s <= IN_TIME_S  # the danger shows at once
        assert "p2" in onlooker.page.locator("[data-danger].is-known").inner_text()
        onlooker.close()


def acknowledge(page: Any, item_id: str) -> None:
    """Acknowledge on the page, and wait until the page shows that it has been."""
    card = page.locator(f"[data-irregularity={item_id}]")
    card.get_by_role("button", name="Acknowledge").click()
    page.locator(f"[data-irregularity={item_id}]", has_text="acknowledged").wait_for()
    assert card.get_by_role("button", name="Acknowledge").count() == 0
