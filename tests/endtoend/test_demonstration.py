"""The demonstration session as everybody sees it first: worked by crews, and nothing said that is not so.

From captures: crews work the plan, boards report, the capture is replayed and held against what really happened.
"""

from __future__ import annotations

import pytest

from .demonstration import crewed, railway, told

SEEDS = range(1, 7)
FAULTS = {
    "unlisted-tag=w05": "tag-unknown",
    "floating-input=pettymarsh-mill": "detector-noisy",
    "silent-board=featherlow": "board-lost",
    "losing-board=pettymarsh": "reports-lost",
}


@pytest.mark.parametrize("seed", SEEDS)
def test_of_a_clean_evening_nothing_is_said_to_be_wrong(seed: int) -> None:
    evening = told(crewed, seed)
    assert evening.irregularities == []
    assert (evening.rows[-1]["says"], evening.rows[-1]["state"]) == ("session", "ended")
    assert not any(evening.rows[-1]["counts"].values())


@pytest.mark.parametrize("seed", SEEDS)
def test_every_vehicle_is_where_it_is_said_to_be(seed: int) -> None:
    evening = told(crewed, seed)
    assert evening.verdict.misplaced == {}
    assert evening.verdict.vehicles == len(railway().stock)
    last = {row["vehicle"]: (row["place"], row["order"]) for row in evening.rows if row["says"] == "whereabouts"}
    assert last == {vehicle: (row["place"], row["order"]) for vehicle, row in evening.truth["vehicles"].items()}


@pytest.mark.parametrize("seed", SEEDS)
def test_every_move_is_done_and_known_to_be(seed: int) -> None:
    evening = told(crewed, seed)
    booked = {(move.vehicle, move.to_road) for move in railway().moves}
    assert {(move["vehicle"], move["to"]) for move in evening.truth["moves"] if move["done"]} == booked
    assert evening.truth["reasons"] == []
    last = {(row["vehicle"], row["to"]): row["state"] for row in evening.rows if row["says"] == "move"}
    assert last == dict.fromkeys(booked, "done")


@pytest.mark.parametrize(("fault", "kind"), FAULTS.items())
def test_what_a_board_or_a_tag_does_wrong_is_said_in_time(fault: str, kind: str) -> None:
    (found,) = told(crewed, 1, fault).verdict.expected
    assert found.kind == kind
    assert found.is_in_time
