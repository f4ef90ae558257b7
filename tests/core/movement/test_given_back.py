"""What lets a train into a section is given back where it has come out: that tells where it is, where nothing else does."""

from __future__ import annotations

import pytest

from ..conftest import ENDS, RESTS, TOKEN, Session, line


def run_through() -> Session:
    """g1 (e1 w1 v1) has lifted the token at Ash, where nothing else tells; then something comes on to the main line at
    Birch, where e3 stands on the loop: it may be either."""
    s = Session(line(rule="token", detectors=("birch-main", "birch-loop", *RESTS)))
    s.see("ash-rest", f"tag={TOKEN}").wait(10.0)
    s.see("ash-rest", "off").wait(20.0)
    return s.on("birch-main").wait(3.0)


def at_birch(s: Session, vehicle: str) -> float:
    where, railway = s.state.where, s.railway
    assert where is not None
    return sum(likely for place, likely in where.likely(vehicle).items() if railway.plant.station_of(place) == "birch")


def test_a_token_laid_down_tells_at_which_station_its_train_is() -> None:
    s = run_through()
    before = at_birch(s, "e1")
    assert 0.1 < before < 0.8
    s.see("birch-rest", f"tag={TOKEN}")
    assert at_birch(s, "e1") > 0.9


def test_laid_down_again_where_it_was_lifted_it_tells_that_the_train_has_not_gone() -> None:
    s = run_through()
    before = at_birch(s, "e1")
    s.see("ash-rest", f"tag={TOKEN}")
    assert at_birch(s, "e1") < before / 2


@pytest.mark.parametrize(("words", "is_told"), [("return ash-birch g1", True), ("depart g1", False)])
def test_an_operator_s_return_tells_that_its_train_is_out(words: str, is_told: bool) -> None:
    """e1 was read going in, and may have been what came to Birch."""
    s = Session(line(rule="one-train", detectors=("birch-main", "birch-loop", ENDS[0])))
    s.wait(10.0).read("ash-end", "e1", "w1", "v1").wait(5.0).on("birch-main").wait(3.0)
    inside = s.state.where.likely("e1").get("ash-birch", 0.0)  # type: ignore[union-attr]
    s.say(words)
    after = s.state.where.likely("e1").get("ash-birch", 0.0)  # type: ignore[union-attr]
    assert inside > 0.0
    assert (after < inside / 2) is is_told


def test_what_comes_out_behind_it_untold_is_with_it_once_the_section_is_given_back() -> None:
    s = Session(line(rule="one-train", detectors=("birch-main", ENDS[0])))
    s.wait(10.0).read("ash-end", "e1", "w1", "v1").wait(5.0).on("birch-main").wait(3.0)
    s.say("return ash-birch g1")
    assert {s.railway.plant.station_of(s.state.where.place(v)) for v in ("e1", "w1", "v1")} == {"birch"}  # type: ignore[union-attr]
