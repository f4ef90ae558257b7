"""Faults that strike one thing and stay with it: which can be chosen, on what, and what each makes of the railway.

Rule: a name alone lets the seed choose its subject among those that the plan brings into play; `NAME=SUBJECT` names it.
Faults of tags, readers, wheels and rails are there from the start as physics; what happens later is in `mishaps.py`
and `board_mishaps.py`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from random import Random

from bridge.core.plan import Railway
from bridge.virtual.hands import move
from bridge.virtual.physics import CrossTalk, Physics, Weakness
from bridge.virtual.subjects import SUBJECTS
from bridge.virtual.wishes import Wish, nearest
from bridge.virtual.world import World

FAULTS = {
    "weak-tag": "the tag of one vehicle is heard at every third reader or so, wherever it goes (=VEHICLE)",
    "dirty-engine": "one engine has dirty wheels: detectors drop out where it is, most where it is alone (=ENGINE)",
    "dirty-rail": "one stretch has dirty rails: its detector drops out under whatever runs there (=STRETCH)",
    "dead-reader": "one reader reads nothing, while its board is well (=READER)",
    "deaf-reader": "one reader misses four tags in five (=READER)",
    "slow-reader": "one reader looks once a second and misses most of what runs (=READER)",
    "silent-reader": "one reader says a tag three times and falls silent while it stays (=READER)",
    "cross-talk": "two readers beside each other now and then read each other's tags, some garbled (=READER+READER)",
    "floating-input": "nothing holds one input: now and then bursts of edges, as of 50 or 100 Hz (=DETECTOR)",
    "power-trip": "the track power of one board's stretches trips for some seconds while nothing runs there"
    " (=POWER-DETECTOR or =BOARD)",
    "brownout": "one board resets now and then when points move at its station (=BOARD)",
    "link-drops": "a board on the broker is cut off for half a minute and sends what it has kept (=BOARD)",
    "moved-by-hand": "a hand takes a wagon from one road to another, while nobody runs there (=WAGON or =WAGON+ROAD)",
    "misplaced": "a wagon stands on another road at the start than whereabouts.csv says (=WAGON or =WAGON+ROAD)",
    "swapped-tags": "two wagons carry each other's tags (=WAGON+WAGON)",
    "unlisted-tag": "one vehicle carries a tag that no list knows (=VEHICLE)",
    "silent-board": "one board says nothing for 40 s, then starts anew (=BOARD)",
    "losing-board": "three reports of one board are lost for good, while something runs there (=BOARD)",
}

DEAF_SHARE = 0.2
SLOW_LOOK_S = 1.0  # so often general-purpose firmware looks unless told otherwise
SILENT_AFTER = 3


class FaultError(Exception):
    """A fault that cannot be planted, in words for people."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault and what it strikes; two subjects where it takes a pair, or a wagon and the road that it comes to."""

    name: str
    subjects: tuple[str, ...]

    @property
    def subject(self) -> str:
        """As it is written after the name."""
        return "+".join(self.subjects)


def is_fault(word: str) -> bool:
    """Whether a word of `--faults` names one of these."""
    return Wish(word).name in FAULTS


def chosen_faults(words: Iterable[str], railway: Railway, seed: int) -> list[Fault]:
    """The faults that these words ask for; raises `FaultError`."""
    return [_chosen(Wish(word), railway, seed) for word in words]


def _chosen(wish: Wish, railway: Railway, seed: int) -> Fault:
    possible, played = SUBJECTS[wish.name](railway)
    known = sorted({part for row in possible for part in row})
    if (subject := wish.unknown(known)) is not None:
        close = nearest(subject, known)
        hint = f"the nearest that it can is {close}" if close else "none on this railway can be"
        raise FaultError(f"{wish.name} cannot strike {subject!r}; {hint}.")
    row = wish.choose(possible, played, tuple, seed)
    if row is None:
        raise FaultError(f"{wish.word}: this railway has nothing that it could strike.")
    return Fault(wish.name, row)


# -- what is so from the start -----------------------------------------------------------------------------------------


def with_faults(physics: Physics, faults: Iterable[Fault], railway: Railway) -> Physics:
    """The physics with all that these faults do to tags, readers, wheels and rails."""
    for fault in faults:
        one = fault.subjects[0]
        make = physics.make_of(one)
        match fault.name:
            case "weak-tag":
                physics = replace(physics, tags={**physics.tags, **dict.fromkeys(railway.stock[one].tags, Weakness())})
            case "dirty-engine":
                wheels = {**physics.dirt.wheels, one: 1.0}
                physics = replace(physics, dirt=replace(physics.dirt, wheels=wheels))
            case "dirty-rail":
                physics = replace(physics, dirt=replace(physics.dirt, rails={**physics.dirt.rails, one: 1.0}))
            case "dead-reader" | "deaf-reader":
                share = 0.0 if fault.name == "dead-reader" else DEAF_SHARE
                physics = replace(physics, readers={**physics.readers, one: replace(make, heard_share=share)})
            case "slow-reader":
                physics = replace(physics, readers={**physics.readers, one: replace(make, look_s=SLOW_LOOK_S)})
            case "silent-reader":
                physics = replace(physics, readers={**physics.readers, one: replace(make, silent_after=SILENT_AFTER)})
            case "cross-talk":
                pair = CrossTalk(one, fault.subjects[1])
                physics = replace(physics, crosstalk=(*physics.crosstalk, pair))
    return physics


def with_carried_tags(railway: Railway, faults: Iterable[Fault]) -> Railway:
    """The railway with the tags that its vehicles really carry."""
    for fault in faults:
        stock = dict(railway.stock)
        if fault.name == "swapped-tags":
            one, other = fault.subjects
            stock[one] = replace(stock[one], tags=railway.stock[other].tags)
            stock[other] = replace(stock[other], tags=railway.stock[one].tags)
        elif fault.name == "unlisted-tag":
            one = fault.subjects[0]
            stock[one] = replace(stock[one], tags=(_unlisted(railway, one), *stock[one].tags[1:]))
        railway = replace(railway, stock=stock)
    return railway


def _unlisted(railway: Railway, vehicle: str) -> str:
    """A tag as long as the one it has, and nobody's."""
    known = {tag for other in railway.stock.values() for tag in other.tags}
    chance, length = Random(f"unlisted {vehicle}"), len(railway.stock[vehicle].tags[0])
    tag = railway.stock[vehicle].tags[0]
    while tag in known:
        tag = "".join(chance.choice("0123456789ABCDEF") for _ in range(length))
    return tag


def set_down_elsewhere(world: World, faults: Iterable[Fault]) -> None:
    """Wagons that stand elsewhere than whereabouts.csv says, before anybody looks."""
    for fault in faults:
        if fault.name == "misplaced":
            move(world, *fault.subjects)
