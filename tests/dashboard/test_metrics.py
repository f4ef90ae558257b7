"""What supervising programs are told: judged by the parser of the Prometheus project's own client library."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from fastapi.testclient import TestClient
from prometheus_client.parser import text_string_to_metric_families

from bridge import __version__
from bridge.dashboard import Commits, create_app


@pytest.fixture
def http(door: Any) -> TestClient:
    return TestClient(create_app(door), base_url="http://localhost")


def figures(http: TestClient) -> dict[tuple[str, tuple[tuple[str, str], ...]], float]:
    """Every sample by its name and labels, as the outside parser reads them."""
    answer = http.get("/metrics")
    assert answer.status_code == 200
    assert answer.headers["content-type"].startswith("text/plain; version=0.0.4")
    families = list(text_string_to_metric_families(answer.text))
    assert all(family.documentation for family in families if family.name.startswith("numbertaker"))
    samples = [sample for family in families for sample in family.samples]
    found = {(sample.name, tuple(sorted(sample.labels.items()))): sample.value for sample in samples}
    assert len(found) == len(samples)
    return found


def test_every_figure_is_told(http: TestClient, door: Any) -> None:
    snapshot = door.shown.snapshot
    boards = [board["state"] for board in snapshot["boards"]]
    found = figures(http)

    def told(name: str, **labels: str) -> float:
        return found[f"numbertaker_{name}", tuple(sorted(labels.items()))]

    assert told("info", version=__version__) == 1
    assert told("lines_total", link="mqtt") == 98
    assert told("rejects_total", link="serial-ttyUSB0", reason="bad-sum") == 2
    assert (told("link_open", link="serial-ttyUSB0"), told("link_open", link="mqtt")) == (1, 0)
    for state in ("heard", "lost", "not-heard"):
        assert told("boards", state=state) == boards.count(state)
    for board in snapshot["boards"]:
        assert told("missing_numbers", board=board["id"]) == board["missing"]
    assert (told("loop_turns_total"), told("records_total"), told("unkept_records")) == (7200, 418, 0)
    assert (told("loop_age_seconds"), told("free_bytes"), told("pages")) == (0.1, 5e9, 0)
    opened = [item["level"] for item in snapshot["irregularities"] if item["status"] == "open"]
    for level in ("danger", "caution", "note"):
        assert told("open_irregularities", level=level) == opened.count(level)
    assert told("unknown_detectors") == sum(detector["state"] == "unknown" for detector in snapshot["detectors"])
    assert found["process_resident_memory_bytes", ()] > 1e6
    assert found["process_open_fds", ()] >= 3


def test_commits_are_a_histogram(http: TestClient) -> None:
    found = figures(http)
    assert [found["numbertaker_commit_seconds_bucket", (("le", le),)] for le in ("0.001", "0.01", "+Inf")] == [3, 403, 405]
    assert found["numbertaker_commit_seconds_count", ()] == 405
    assert found["numbertaker_commit_seconds_sum", ()] == 4.5


def test_before_anything_was_heard_it_is_told_all_the_same(http: TestClient, door: Any) -> None:
    door.show(lambda snapshot: snapshot.clear())
    door.fit = replace(
        door.fit, lines={}, rejects={}, links={}, free_bytes=None, commits=Commits(((math.inf, 0),), 0.0, None)
    )
    found = figures(http)
    assert found["numbertaker_commit_seconds_count", ()] == 0
    assert ("numbertaker_free_bytes", ()) not in found
    assert http.get("/healthz").json()["commit_age_s"] is None


def test_names_that_need_quoting_are_quoted(http: TestClient, door: Any) -> None:
    door.fit = replace(door.fit, lines={'serial-"odd"\\name': 5})
    assert figures(http)["numbertaker_lines_total", (("link", 'serial-"odd"\\name'),)] == 5


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"loop_age_s": 11.0}, "has not come round for 11 s"),
        ({"unkept": 12}, "12 records wait"),
    ],
)
def test_a_stuck_loop_and_a_journal_that_is_not_written_are_no_health(
    http: TestClient, door: Any, change: dict[str, float], says: str
) -> None:
    assert http.get("/healthz").status_code == 200
    door.fit = replace(door.fit, **change)
    answer = http.get("/healthz")
    assert answer.status_code == 503
    assert answer.json()["ok"] is False
    assert says in answer.json()["why"]


def test_health_is_told(http: TestClient, door: Any) -> None:
    boards = [board["state"] for board in door.shown.snapshot["boards"]]
    assert http.get("/healthz").json() == {
        "ok": True,
        "why": None,
        "version": __version__,
        "picture": 1,
        "pages": 0,
        "loop_age_s": 0.1,
        "commit_age_s": 1.25,
        "boards": {state: boards.count(state) for state in ("heard", "lost", "not-heard")},
        "links": {"serial-ttyUSB0": True, "mqtt": False},
        "unkept": 0,
        "free_bytes": 5_000_000_000,
    }


@pytest.mark.parametrize("path", ["/healthz", "/metrics"])
def test_a_service_that_does_not_answer_is_told_as_such(http: TestClient, door: Any, path: str) -> None:
    door.fails = RuntimeError("the loop has gone")
    answer = http.get(path)
    assert answer.status_code == 503
    assert "the loop has gone" in answer.json()["text"]
