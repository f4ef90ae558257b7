"""What HTTP says of itself is true: a judge of its own asks everything that the document allows, and much that it does not.

The judge is Schemathesis, which makes requests from the OpenAPI document: right ones, wrong ones, wrong methods; and holds
each answer against what the document says of it.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
import schemathesis
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, Phase, settings
from schemathesis.specs.openapi.checks import unsupported_method

from bridge.dashboard import Pin, Shown, create_app, create_founding, pin
from bridge.dashboard.answers import Folder, Health, Made, Tried, Truth
from bridge.folder import load
from bridge.folder.making import Sketch
from bridge.service.founding import Founding
from bridge.virtual.beside import Beside

from ..endtoend.demonstration import crewed
from ..folder.making.sketches import small
from ..published.test_things import EXAMPLE
from ..virtual.test_beside import as_it_is, run_until
from .conftest import HandDoor
from .test_after import HandAfter

HOST = "http://localhost"
FOLDER = {"state": "empty", "folder": "/home/mo/käthe", "in_the_way": [], "findings": [], "left_out": 0, "lacks": []}
TRUTH: dict[str, Any] = {"t": 1.5, "strips": {}, "trains": {}, "tokens": {}, "wrong": []}
BRIEFLY = settings(
    max_examples=20,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)


class Ground:
    """A railway folder that is none."""

    def stands(self) -> Mapping[str, Any]:
        return FOLDER

    def look(self) -> Mapping[str, Any]:
        return FOLDER

    def attempt(self, sketch: Any) -> Mapping[str, Any]:
        return {"findings": [], "texts": {"railway.toml": f"# {sketch.name}"}, "check": []}

    def make(self, sketch: Any) -> Mapping[str, Any]:
        return {"accepted": True, "text": f"Written: {sketch.name}.", "findings": []}


def session(needed: Pin | None = None) -> FastAPI:
    door = HandDoor()
    door.shown = Shown(1, copy.deepcopy(EXAMPLE), door.shown.outcomes)
    app = create_app(door, truth=lambda snapshot: TRUTH, after=HandAfter(), ground=Ground(), pin=needed)
    app.state.end_streams()  # so that a stream is over at once; what it sends is looked at elsewhere
    return app


def asked(app: FastAPI) -> Any:
    """The schema of an application, to be asked of the application itself."""
    schema = schemathesis.openapi.from_dict(app.openapi())
    schema.app = app
    schema.config.update(base_url=HOST)
    return schema


SESSION = asked(session())
FROM_AFAR = asked(session(Pin("2468", "It stands in the file.")))
BEFORE = asked(create_founding(Ground()))


@SESSION.parametrize()
@BRIEFLY
def test_the_judge_finds_nothing_in_a_session(case: Any) -> None:
    case.call_and_validate()


@pytest.fixture
def patience(monkeypatch: pytest.MonkeyPatch) -> None:
    """The judge guesses many a PIN, and is not to be told to wait: that is looked at elsewhere."""
    monkeypatch.setattr(pin, "MOST_WRONG", 1_000_000)


@FROM_AFAR.parametrize()
@BRIEFLY
def test_the_judge_finds_nothing_where_a_pin_is_asked_for(case: Any, patience: None) -> None:
    case.call_and_validate(excluded_checks=[unsupported_method])  # whatever is no mere reading is asked for the PIN first


@BEFORE.parametrize()
@BRIEFLY
def test_the_judge_finds_nothing_before_a_session(case: Any) -> None:
    case.call_and_validate()


def test_the_bounds_are_those_by_which_bodies_are_judged() -> None:
    http = TestClient(session(), base_url=HOST)
    told = http.get("/openapi.json").json()["components"]["schemas"]["Told"]["properties"]
    longest = "\N{STEAM LOCOMOTIVE}" * (told["words"]["maxLength"] - 1) + "!"
    body = '{"words": "' + longest.encode("unicode_escape").decode().replace("\\U0001f682", "\\ud83d\\ude82") + '"}'
    answer = http.post("/api/tell", content=body, headers={"content-type": "application/json"})
    assert (answer.status_code, answer.json()["accepted"]) == (200, True)


@pytest.mark.parametrize("path", ["/openapi.json", "/asyncapi.json"])
@pytest.mark.parametrize(
    ("headers", "status"), [({}, 200), ({"host": "evil.example"}, 421), ({"origin": "http://evil.example"}, 403)]
)
def test_the_documents_are_for_whoever_may_look(path: str, headers: dict[str, str], status: int) -> None:
    answer = TestClient(session(), base_url=HOST).get(path, headers=headers)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/json"


MARKUP = "<img src=x onerror=alert(1)>"


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("POST", "/api/tell", b"{" * 100_000, 413),
        ("POST", "/api/tell", b"[" * 10_000, 422),
        ("POST", "/api/tell", b'{"words": 1e999}', 422),
        ("POST", "/api/after", b'{"token": {"a": []}}', 422),
        ("POST", "/api/snapshot", b"", 405),
        ("DELETE", "/api/tell", b"", 405),
        ("GET", "/api/tell", b"", 405),
        ("PUT", "/api/after", b"", 405),
        ("BREW", "/api/after", b"", 405),
        ("GET", f"/api/{MARKUP}", b"", 404),
        ("GET", "/api/snapshot/../../pyproject.toml", b"", 404),
        ("GET", "/%00", b"", 404),
        ("GET", "/" + "x" * 5_000, b"", 404),
    ],
)
def test_what_is_hostile_is_a_clear_no(method: str, path: str, body: bytes, status: int) -> None:
    http = TestClient(session(), base_url=HOST)
    answer = http.request(method, path, content=body, headers={"content-type": "application/json"})
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/json"
    told = answer.json()
    assert (told["accepted"], told["n"]) == (False, None)
    assert told["text"].endswith(".")
    if status == 405:
        assert answer.headers["allow"] == ("GET, POST" if "after" in path else "GET" if "snapshot" in path else "POST")


def test_markup_comes_back_as_the_text_that_it_is() -> None:
    http = TestClient(session(), base_url=HOST)
    answer = http.post("/api/tell", json={"words": f"extra e7 {MARKUP}", "who": MARKUP})
    assert answer.headers["content-type"] == "application/json"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert MARKUP in answer.json()["text"]


def test_what_is_really_answered_of_a_folder_is_of_that_shape(tmp_path: Path) -> None:
    (tmp_path / "faulty").mkdir()
    (tmp_path / "faulty" / "railway.toml").write_text("[railway]\nid = 7\n")
    for name in ("nowhere", "faulty"):
        founding = Founding(tmp_path / name, load(tmp_path / name))
        Folder.model_validate(founding.stands())
        Folder.model_validate(founding.look())
    assert Folder.model_validate(founding.stands()).findings
    sketches = [Sketch.model_validate(body) for body in (small(), {**small(), "scale": "x"})]
    for sketch in sketches:
        Tried.model_validate(founding.attempt(sketch))
    made = Founding(tmp_path / "new", load(tmp_path / "new"))
    for sketch in (*reversed(sketches), sketches[0]):
        Made.model_validate(made.make(sketch))
    assert Folder.model_validate(made.stands()).state == "opening"


def test_what_is_really_answered_of_health_and_truth_is_of_that_shape() -> None:
    door = HandDoor()
    Health.model_validate(TestClient(create_app(door), base_url=HOST).get("/healthz").json())
    evening = crewed().evening(1, [])
    beside = Beside(evening)
    run_until(evening, lambda: evening.timeline.now_s > 60, beside)
    Truth.model_validate(beside(as_it_is(evening)))
    wrong = as_it_is(evening)
    wrong["vehicles"][next(iter(wrong["vehicles"]))]["place"] = "nowhere"
    beside(wrong)
    run_until(evening, lambda: evening.timeline.now_s > 90, beside)
    again = {**as_it_is(evening), "vehicles": wrong["vehicles"]}
    assert Truth.model_validate(beside(again)).wrong
