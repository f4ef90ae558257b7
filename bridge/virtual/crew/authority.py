"""The right to be in a section: its token lifted, carried and laid down, or the operator's word where no rest tells.

Rule: the bridge is told nothing that its detectors tell it. A token lifted counts as the next booked train's: another train
is given it by word first. Where the staff is wanted again at this end, a train goes by ticket. A token that nobody is booked
to bring is carried across by hand, while the section is empty.
"""

from __future__ import annotations

from bridge.core.plant import SectionRule
from bridge.virtual import orders as o
from bridge.virtual.crew.book import Trip
from bridge.virtual.crew.post import Doing, Post
from bridge.virtual.crew.stacks import CannotError

CARRIED_S = 20.0  # a token carried from one rest to the other


def why_not(post: Post, section: str, station: str) -> str:
    """Why a train at this station cannot have the section's token; empty where it can, or where none is needed."""
    if not post.book.needs_token(section) or post.book.token_at(section) == station:
        return ""
    where = post.book.token_at(section)
    if where is None:
        return f"a train has the token of {section}"
    coming = post.book.next_trip(section)
    if coming is None or coming.working == post.name or coming.station == station:
        return ""  # nobody will bring it sooner: it is fetched
    return f"the token of {section} is at {where}, for {coming.working}"


def take(post: Post, section: str, station: str, trip: Trip | None) -> Doing[str]:
    """Get the authority for a section that is ours; "rest", "told", "ticket", or "" where the section itself is it."""
    book, scene = post.book, post.scene
    if not book.needs_token(section):
        return ""
    lies_at = scene.tokens.lies_at(section)
    if book.token_at(section) != station:
        if lies_at is not None and scene.tokens.has_rest(section, station):
            yield o.TakesToken(section, lies_at)
            yield o.Waits(CARRIED_S)
            yield o.LaysToken(section, station)
            yield o.Waits(2.0)
        book.move_token(section, station)
        lies_at = scene.tokens.lies_at(section)
    if _by_ticket(post, section, station, trip):
        yield o.Says(f"give {section} {post.name} ticket")
        return "ticket"
    if lies_at == station:
        following = book.next_trip(section)
        if following is not None and following.working != post.name:
            yield o.Says(f"give {section} {post.name}")
        refusal = yield from post.does(o.TakesToken(section, station))
        if refusal is not None:
            raise CannotError(refusal.reason)
    else:
        yield o.Says(f"give {section} {post.name}")
    book.move_token(section, None)
    return "rest" if lies_at == station else "told"


def give_up(post: Post, section: str, station: str, how: str) -> Doing[None]:
    """Lay the token down, or say that it is back, at this station."""
    if how in ("", "ticket"):
        return
    tokens = post.scene.tokens
    if tokens.is_out(section) and tokens.has_rest(section, station):
        yield from post.must(o.LaysToken(section, station))
    else:
        yield o.Says(f"return {section} {post.name}")
    post.book.move_token(section, station)


def _by_ticket(post: Post, section: str, station: str, trip: Trip | None) -> bool:
    """Whether the next train through the section goes the same way, so that the staff has to stay."""
    if post.scene.railway.plant.sections[section].rule is not SectionRule.STAFF_AND_TICKET or trip is None:
        return False
    following = post.book.next_trip(section, besides=trip.working)
    return following is not None and following.station == station
