"""At which end of its section the only token lies when a train needs it.

Rule: under the rule `token` each train takes the token with it, so that trains one after the other run to and fro. Whether
a folder means a train staff or one of several tokens only its tags can say: with two tags or more nothing is told, otherwise
it is advice, once for each section, and only where times say who goes first. Source: a driver enters a token section only
with its token, which names the section (encyclopaedia article on tokens); with staff and ticket all but the last go on
tickets (Findlay, Working and Management of an English Railway, p. 161).
"""

from __future__ import annotations

from bridge.core.plant import SectionRule
from bridge.folder.clock import when
from bridge.folder.compositions import Compositions
from bridge.folder.places import Places


def tell_tokens(trains: Compositions, places: Places) -> None:
    """Advice for the first train of each section that finds its token at the far end."""
    plant = trains.railway.plant
    lies_at: dict[str, tuple[str, str] | None] = {}
    for step in trains.course:
        working = trains.railway.workings[step.working]
        if not step.leaves or step.call + 1 >= len(working.calls):
            continue
        here, then = working.calls[step.call], working.calls[step.call + 1]
        section = plant.section_between(here.station, then.station)
        if section is None or section.rule is not SectionRule.TOKEN or len(section.token_tags) > 1:
            continue
        lies = lies_at.get(section.id, (here.station, ""))
        if lies is None:
            continue
        if here.depart_s is None or ("working", step.working) in places.doubtful:
            lies_at.pop(section.id, None)
            continue
        if lies[0] != here.station and len(section.directions) > 1:
            message = (
                f"{lies[1]} has taken the token of section {section.id} to {lies[0]}, and {step.working}{when(here)} needs"
            )
            message += f" it at {here.station}."
            remedy = 'Book a train back between them, work it by rule = "staff-and-ticket", or carry the token back by hand.'
            places.findings.advice(places.spots["call.station", step.working, step.call], message, remedy)
            lies_at[section.id] = None
        else:
            lies_at[section.id] = (then.station, step.working)
