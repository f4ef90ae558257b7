"""The same records say the same, whatever the hash seed; a state that was put away in between goes on as if it had not."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path

import pytest

from bridge.core import state
from bridge.core.fold import fold
from bridge.service.folding import Evening

from ..recordings.said import STRICT, folder_of, railway_of, records_of

RECORDINGS = Path(__file__).parents[1] / "recordings"
SCRIPT = """
import json, sys
from bridge.folder import load
from bridge.service.replaying import replay
from bridge.wire.capture import read_capture
folder, capture = sys.argv[1:]
with open(capture, "rb") as file:
    for outcome in replay(load(folder).railway, read_capture(file)):
        print(json.dumps(outcome.as_dict()))
"""


@pytest.mark.parametrize("name", ["goods-whole-run", "staff-and-ticket"])
def test_the_hash_seed_decides_nothing(name: str) -> None:
    capture = RECORDINGS / f"{name}.capture"
    folder = RECORDINGS / folder_of(capture.read_text(encoding="utf-8"))
    said = []
    for seed in ("0", "1", "4242"):
        command = [sys.executable, "-c", SCRIPT, str(folder), str(capture)]
        done = subprocess.run(
            command, env={**os.environ, "PYTHONHASHSEED": seed}, capture_output=True, check=True, timeout=60
        )
        said.append(done.stdout)
    assert said[0].count(b"\n") > 50
    assert said[0] == said[1] == said[2]


@pytest.mark.parametrize("name", ["goods-whole-run", "late-reports", "token-by-word", "service-restarted"])
@pytest.mark.parametrize("part", [0.1, 0.35, 0.6, 0.9])
def test_a_state_put_away_and_taken_up_again_goes_on_the_same(name: str, part: float) -> None:
    text = (RECORDINGS / f"{name}.capture").read_text(encoding="utf-8")
    records, railway = records_of(text), railway_of(folder_of(text))
    straight, broken = Evening(STRICT, railway), Evening(STRICT, railway)
    for at, record in enumerate(records):
        if at == int(len(records) * part):
            broken._state = pickle.loads(pickle.dumps(broken._state))
        assert list(broken.follow(record)) == list(straight.follow(record)), record
    assert list(broken.close()) == list(straight.close())
    assert broken.view() == straight.view()


def test_nothing_is_shared_between_two_sessions() -> None:
    """What one state has taken in, another does not know."""
    text = (RECORDINGS / "goods-whole-run.capture").read_text(encoding="utf-8")
    railway = railway_of(folder_of(text))
    one = Evening(STRICT, railway)
    for record in records_of(text):
        list(one.follow(record))
    other = state.fresh(strict=True)
    assert (other.ledger.n, other.roster.trains, other.presences, other.freight.moves) == (0, {}, {}, [])
    assert fold is STRICT.fold
