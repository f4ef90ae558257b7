"""A line of four stations and three trains, each detector telling what is true, and what the real core makes of it.

Rule: what is true is kept here, apart from the core; the core is fed with readings and words alone, and is put away and
taken up again between one step and the next, so that every order of steps can be tried.
"""

from __future__ import annotations

import io
import pickle
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

from bridge.core.plan import Railway
from bridge.core.retold.past import Past
from bridge.core.state import State
from bridge.folder import read

from .conftest import Session

STATIONS = ("ash", "birch", "cedar", "dale")
SECTIONS = tuple(pairwise(STATIONS))
TOKENS = {f"{one}-{other}": f"04FF0{n}" for n, (one, other) in enumerate(SECTIONS, 1)}
BY_TOKEN = ("token", "staff-and-ticket")


def detector(where: str) -> str:
    """The id of the detector of a stretch, at a section's end, or of a token's rest."""
    return where.replace(".", "-").replace("@", "-at-")


def line_of_four(rule: str, routes: dict[str, tuple[str, ...]]) -> Railway:
    """Stations with a road for each train, every stretch with a track detector, every section end with a reader, a rest for
    every token at both its ends; trains (an engine and a brake van) that are booked along these stations without times."""
    toml = '[railway]\nid = "four"\nname = "Four stations"\nscale = 76.2\nclock = 4\n[[board]]\nid = "one"\nlink = "mqtt"\n'
    detectors: list[str] = []
    for station in STATIONS:
        toml += f'[[station]]\nid = "{station}"\nname = "{station.title()}"\n'
        for train in routes:
            toml += f'[[station.road]]\nid = "{train}"\nkind = "loop"\nlength = 2000\nopen = ["up", "down"]\n'
            detectors.append(f'id = "{detector(f"{station}.{train}")}"\nkind = "track"\ncovers = "{station}.{train}"')
        detectors += [
            f'id = "{detector(f"{station}.{end}")}"\nkind = "track"\ncovers = "{station}.{end}"' for end in ("up", "down")
        ]
    sections = ""
    for one, other in SECTIONS:
        name = f"{one}-{other}"
        sections += f'[[section]]\nid = "{name}"\nfrom = "{one}.down"\nto = "{other}.up"\nlength = 5000\nrule = "{rule}"\n'
        detectors.append(f'id = "{name}"\nkind = "track"\ncovers = "{name}"')
        detectors += [f'id = "{detector(f"{name}@{at}")}"\nkind = "reader"\nat = "{name}@{at}"' for at in (one, other)]
        if rule in BY_TOKEN:
            sections += f'token_tags = ["{TOKENS[name]}"]\n'
            detectors += [
                f'id = "{detector(f"{name}-rest-{at}")}"\nkind = "token-rest"\ntoken = "{name}"\nstation = "{at}"'
                for at in (one, other)
            ]
    toml += sections + "".join(
        f'[[detector]]\n{text}\nboard = "one"\ninput = {number}\n' for number, text in enumerate(detectors, 1)
    )
    texts = {
        "railway.toml": toml,
        "stock.csv": "vehicle,kind,length,tags\n"
        + "".join(f"e{t},engine,150,04A{n}\nb{t},brake,120,04B{n}\n" for n, t in enumerate(routes, 1)),
        "whereabouts.csv": "vehicle,road,order\n" + "".join(_standing(t, route) for t, route in routes.items()),
        "timetable.csv": "working,kind,engine,station,road,arrive,depart,rake\n"
        + "".join(_calls(train, route) for train, route in routes.items()),
        "moves.csv": "vehicle,from,to,working,call\n",
    }
    found = read({name: text.encode() for name, text in texts.items()})
    assert found.railway is not None, found.findings
    return found.railway


def _goes_down(route: tuple[str, ...]) -> bool:
    return STATIONS.index(route[0]) < STATIONS.index(route[1])


def _standing(train: str, route: tuple[str, ...]) -> str:
    rake = (f"b{train}", f"e{train}") if _goes_down(route) else (f"e{train}", f"b{train}")
    return "".join(f"{vehicle},{route[0]}.{train},{order}\n" for order, vehicle in enumerate(rake, 1))


def _calls(train: str, route: tuple[str, ...]) -> str:
    first = f"{train},goods,e{train},{route[0]},{train},,,b{train}\n"
    return first + "".join(f"{train},goods,e{train},{station},{train},,,\n" for station in route[1:])


@dataclass(frozen=True)
class Truth:
    """Where everything really is. `at`: of each train how many legs it has begun, doubled, and one less while it is on the
    last of them; `tokens`: of each section the station where its token lies, or the train that has it; `tickets`: sections
    for which a train has a ticket."""

    at: tuple[int, ...]
    tokens: tuple[str, ...] = ()
    tickets: frozenset[tuple[str, str]] = frozenset()


Kept = tuple[bytes, float, int, Truth]
"""The core's state, the seconds and the journal number, and what is true."""


class Line:
    """The line as it is, and the core beside it."""

    def __init__(self, rule: str, routes: dict[str, tuple[str, ...]], session: Session, truth: Truth) -> None:
        self.rule, self.routes, self.session, self.truth = rule, routes, session, truth

    @classmethod
    def begin(cls, rule: str, routes: dict[str, tuple[str, ...]]) -> Line:
        """All trains stand at their first stations, the tokens at the upper end of each section."""
        session = Session(line_of_four(rule, routes), begin=None)
        for section, tag in TOKENS.items() if rule in BY_TOKEN else ():
            session.see(f"{section}-rest-{section.partition('-')[0]}", f"tag={tag}", 0.0)
        session.wait(3.0).say("begin 19:00")
        session.state.past = Past()  # nothing comes late here
        tokens = tuple(one for one, _ in SECTIONS) if rule in BY_TOKEN else ()
        return cls(rule, routes, session, Truth((0,) * len(routes), tokens))

    # --- what is true

    def leg(self, train: str) -> tuple[str, str, str] | None:
        """The section where a train is, or into which it goes next, from where and to where; None once it has come."""
        legs = (self.truth.at[list(self.routes).index(train)]) // 2
        route = self.routes[train]
        if legs + 1 >= len(route):
            return None
        here, then = route[legs], route[legs + 1]
        return "-".join(sorted((here, then))), here, then

    def is_in_section(self, train: str) -> bool:
        return self.truth.at[list(self.routes).index(train)] % 2 == 1

    def inside(self, section: str) -> list[str]:
        """The trains in a section."""
        return [t for t in self.routes if self.is_in_section(t) and (leg := self.leg(t)) is not None and leg[0] == section]

    def has_token(self, train: str) -> str | None:
        """The section whose token a train has."""
        held = [section for section, where in zip(TOKENS, self.truth.tokens, strict=False) if where == train]
        return held[0] if held else None

    # --- what can happen next

    def steps(self) -> list[tuple[str, str]]:
        """Every step that can be taken now."""
        found: list[tuple[str, str]] = []
        for train in self.routes:
            leg = self.leg(train)
            if self.is_in_section(train):
                found.append(("comes", train))
            elif leg is not None:
                found.append(("goes", train))
                lies_here = bool(self.truth.tokens) and self.truth.tokens[list(TOKENS).index(leg[0])] == leg[1]
                if lies_here and self.has_token(train) is None:
                    found.append(("takes", train))
                    if self.rule == "staff-and-ticket" and (leg[0], train) not in self.truth.tickets:
                        found.append(("ticket", train))
            if not self.is_in_section(train) and self._lays_at(train) is not None:
                found.append(("lays", train))
        return found

    def _lays_at(self, train: str) -> str | None:
        """Where a train that stands at a station can lay down the token of the section that it came by."""
        section, at = self.has_token(train), self.truth.at[list(self.routes).index(train)]
        station = self.routes[train][at // 2]
        came_by = at > 0 and section == "-".join(sorted((self.routes[train][at // 2 - 1], station)))
        return station if section is not None and came_by else None

    def take(self, step: str, train: str) -> None:
        """One step is taken: every detector says what it then sees."""
        getattr(self, f"_{step}")(train)
        self.session.wait(3.0)

    def _goes(self, train: str) -> None:
        section, here, then = self.leg(train) or ("", "", "")
        end = "down" if STATIONS.index(here) < STATIONS.index(then) else "up"
        was_free = not self.inside(section)
        s = self.session
        s.on(f"{here}-{end}")
        if was_free:
            s.on(section, after=1.0)
        s.read(f"{section}-at-{here}", f"e{train}", after=0.2).off(f"{here}-{train}")
        s.read(f"{section}-at-{here}", f"b{train}").off(f"{here}-{end}")
        self._move(train)

    def _comes(self, train: str) -> None:
        section, here, then = self.leg(train) or ("", "", "")
        end = "up" if STATIONS.index(here) < STATIONS.index(then) else "down"
        s = self.session
        s.on(f"{then}-{end}").read(f"{section}-at-{then}", f"e{train}", after=0.2).on(f"{then}-{train}")
        s.read(f"{section}-at-{then}", f"b{train}")
        self._move(train)
        if not self.inside(section):
            s.off(section)
        s.off(f"{then}-{end}")
        self.truth = replace(self.truth, tickets=self.truth.tickets - {(section, train)})

    def _takes(self, train: str) -> None:
        section, here, _ = self.leg(train) or ("", "", "")
        self.session.off(f"{section}-rest-{here}")
        self._put(section, train)

    def _lays(self, train: str) -> None:
        section, here = self.has_token(train) or "", self._lays_at(train) or ""
        self.session.see(f"{section}-rest-{here}", f"tag={TOKENS[section]}")
        self._put(section, here)

    def _ticket(self, train: str) -> None:
        section, _, _ = self.leg(train) or ("", "", "")
        self.session.say(f"give {section} {train} ticket")
        self.truth = replace(self.truth, tickets=self.truth.tickets | {(section, train)})

    def _put(self, section: str, where: str) -> None:
        tokens = (where if name == section else was for name, was in zip(TOKENS, self.truth.tokens, strict=True))
        self.truth = replace(self.truth, tokens=tuple(tokens))

    def _move(self, train: str) -> None:
        at = tuple(n + (name == train) for name, n in zip(self.routes, self.truth.at, strict=True))
        self.truth = replace(self.truth, at=at)

    # --- what the core holds

    def may_go(self, train: str) -> str | None:
        """The core's answer for a train that stands at a station."""
        found = self.session.state.advice.get(train)
        return None if found is None else found.answer

    def held(self) -> tuple[Any, ...]:
        """All that can matter to what the core says of trains and sections later."""
        state, author = self.session.state, self.session.state.authorities
        return (
            self.truth,
            tuple((t.id, t.phase, t.call, t.station, t.section) for t in state.roster.trains.values()),
            tuple((s, p.train, p.start, p.out_at, p.cleared, p.departed) for s, ps in state.presences.items() for p in ps),
            tuple((s, tuple((t, g.how) for t, g in rows.items())) for s, rows in sorted(author.grants.items()) if rows),
            tuple((s, t.station, t.holder, t.lifted_at, t.given) for s, t in author.tokens.items()),
            tuple(author.proof.items()),
            tuple((s, e.train, e.authorised, e.others) for s, rows in sorted(state.entries.items()) for e in rows),
            tuple(sorted((train, one.section, one.answer, one.sense) for train, one in state.advice.items())),
            tuple(sorted(state.offered.items())),
            tuple((v, state.where.place(v)) for v in self.session.railway.stock) if state.where is not None else (),
        )

    def put_away(self) -> Kept:
        """The line and the core as they are, to be taken up again by `take_up`."""
        buffer = io.BytesIO()
        _Packer(buffer, self.session.railway).dump(self.session.state)
        return buffer.getvalue(), self.session.t, self.session.n, self.truth

    def take_up(self, kept: Kept) -> None:
        """The line and the core as they were."""
        state: State = _Unpacker(io.BytesIO(kept[0]), self.session.railway).load()
        self.session.state, self.session.t, self.session.n, self.truth = state, kept[1], kept[2], kept[3]
        self.session.said = []


class _Packer(pickle.Pickler):
    """Leaves out what never changes."""

    def __init__(self, file: io.BytesIO, railway: Railway) -> None:
        super().__init__(file, pickle.HIGHEST_PROTOCOL)
        self._fixed = {id(part): name for name, part in _fixed(railway).items()}

    def persistent_id(self, obj: Any) -> str | None:
        return self._fixed.get(id(obj))


class _Unpacker(pickle.Unpickler):
    """Puts it back."""

    def __init__(self, file: io.BytesIO, railway: Railway) -> None:
        super().__init__(file)
        self._fixed = _fixed(railway)

    def persistent_load(self, pid: Any) -> Any:
        return self._fixed[pid]


def _fixed(railway: Railway) -> dict[str, Any]:
    return {"railway": railway, "plant": railway.plant, "stock": railway.stock}
