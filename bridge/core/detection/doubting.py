"""Detectors watched for what speaks against them: each sign handed to the room that it concerns.

Rule: this room decides nothing; `noise` counts changes, `silent` what does not change, `contradictions` what cannot be.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from bridge.core.detection import contradictions, noise, silent
from bridge.core.detection.doubtful import Run
from bridge.core.line.presence import Presence

if TYPE_CHECKING:
    from bridge.core.conditioning import Conditioned, Observation
    from bridge.core.movement.trains import Train
    from bridge.core.state import State


IN_S = 10.0  # so long after its first vehicle a train is on its road with all of it: common practice, no source


def hear(state: State, heard: Conditioned) -> None:
    """Inputs have changed, be that news or not."""
    for detector in heard.changed:
        noise.heard(state, detector)


def observe(state: State, seen: Observation) -> None:
    """One observation."""
    silent.observe(state, seen)
    contradictions.observe(state, seen)


def train_left(state: State, train: Train, presence: Presence) -> None:
    """A train has departed. Of one that was only found to have gone nobody knows when it passed anything."""
    railway = state.railway
    assert railway is not None
    before = state.doubtful.runs.pop(train.id, None)
    if state.doubtful.moments.waits("run", train.id):
        _judge(state, train.id, before)
    if not presence.cause.startswith("unseen:"):
        section = railway.plant.sections[presence.section]
        end = section.to_throat if presence.start == section.from_throat else section.from_throat
        evidence = () if presence.n is None else (presence.n,)
        stood_t = _read_in_t(state, train)
        state.doubtful.runs[train.id] = Run(section.id, train.road, presence.start, end, presence.out_t, stood_t, evidence)


def _read_in_t(state: State, train: Train) -> float | None:
    """When a train came to its road, where a reader at one of its ends has told of it since."""
    railway, where, t = state.railway, state.where, train.arrived_t
    assert railway is not None and where is not None
    road = railway.plant.roads.get(train.road or "")
    if t is None or road is None:
        return None
    return t if any(where.read_since(f"{road.id}@{end}", t - IN_S) for end in road.open) else None


def came_back(state: State, train: Train) -> None:
    """It was a shunt."""
    state.doubtful.runs.pop(train.id, None)


def train_came(state: State, train: Train, road: str, n: int | None) -> None:
    """A train has come to a road; what it has passed is judged once all of it is in."""
    railway, run = state.railway, state.doubtful.runs.get(train.id)
    assert railway is not None
    if run is None:
        return
    if railway.plant.throats[run.end].station != railway.plant.roads[road].station:
        del state.doubtful.runs[train.id]
        return
    state.doubtful.runs[train.id] = replace(run, evidence=(*run.evidence, *(() if n is None else (n,))))
    state.doubtful.moments.set("run", train.id, state.t + IN_S)
    contradictions.train_came(state, road, run.end, n)


def _judge(state: State, train: str, run: Run | None) -> None:
    """A train is in: what did all that it has passed say of it?"""
    state.doubtful.moments.drop("run", train)
    if run is not None:
        silent.train_came(state, state.roster.trains[train], run)


def pass_deadline(state: State) -> None:
    """The moments that have come."""
    while (found := state.doubtful.moments.pop(state.t)) is not None:
        _, (kind, subject, _, _) = found
        if kind == "noisy":
            noise.calm(state, subject)
        elif kind == "run":
            _judge(state, subject, state.doubtful.runs.pop(subject, None))
        else:
            contradictions.come_due(state, kind, subject)


def due(state: State) -> float | None:
    """The next such moment."""
    return state.doubtful.moments.first()
