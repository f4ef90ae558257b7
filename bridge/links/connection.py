"""How the connection to the broker stands, in plain words.

Rule: what is said holds now, or happened so lately that it still explains what the page shows; each sentence has a remedy.
"""

from __future__ import annotations

from collections.abc import Iterable

from bridge.links.broker import remedy
from bridge.links.link import Clock

SHORT_S = 10.0  # a connection that stood no longer was cut as soon as it stood
SILENT_S = 15.0  # a board says `alive` every 2 s, and stays away for a few seconds when a broker has come back
FORGOTTEN_S = 60.0


class Connection:
    """What has become of the connection to one broker; `root` is the topic under which its boards speak."""

    def __init__(self, clock: Clock, where: str, root: str) -> None:
        self.is_open = False
        self._clock = clock
        self._where = where
        self._root = root
        self._trouble: str | None = None
        self._opened_at = 0.0
        self._short_in_a_row = 0
        self._had_session = False
        self._forgotten_at: float | None = None
        self._is_heard = False

    def cannot_be(self, error: Exception) -> None:
        """With these settings nobody could connect."""
        self._trouble = f"The broker {self._where} cannot be used ({error}). Correct [broker] in railway.toml."

    def not_reached(self, error: BaseException | None) -> None:
        """Nobody has answered."""
        self._trouble = (
            f"The broker {self._where} is not reached ({error}). Is it running, and are host, port and tls right? "
            "It is tried again all the time."
        )

    def refused(self, reason: str) -> None:
        """The broker has answered no."""
        self._trouble = f"The broker {self._where} refuses: {reason}. {remedy(reason)}"

    def connected(self, has_kept: bool) -> None:
        """The broker has let us in; `has_kept`: it knows the session of before."""
        self._trouble = None
        if self._had_session and not has_kept:
            self._forgotten_at = self._clock()
            self._had_session = False

    def not_allowed(self, filters: Iterable[str]) -> None:
        """The broker refuses a subscription."""
        self._trouble = (
            f"The broker {self._where} does not let numbertaker read {' and '.join(filters)}. Allow it to this user "
            "in the broker's access list."
        )

    def opened(self) -> None:
        """Boards are heard from here on."""
        self.is_open = self._had_session = True
        self._opened_at = self._clock()

    def heard(self) -> None:
        """A message has come."""
        self._is_heard = True

    def lost(self, reason: str) -> None:
        """The connection, which was open, is gone."""
        self.is_open = False
        self._short_in_a_row = self._short_in_a_row + 1 if self._clock() - self._opened_at < SHORT_S else 0
        self._trouble = f"The broker {self._where} was lost ({reason}). {remedy(reason)}"

    def closed(self) -> None:
        """We have left."""
        self.is_open = False

    def troubles(self, has_boards: bool) -> tuple[str, ...]:
        """Why the broker is not reached, or what it refuses or forgets. `has_boards`: some are to be heard through it."""
        said = [] if self._trouble is None else [self._trouble]
        stood_s = self._clock() - self._opened_at if self.is_open else 0.0
        if self._short_in_a_row > 1 and stood_s <= SHORT_S:
            said.append(
                f"The broker {self._where} cuts the connection again and again as soon as it stands. Another numbertaker "
                "may be running the same railway on it: stop one of the two."
            )
        if self._forgotten_at is not None and self._clock() - self._forgotten_at < FORGOTTEN_S:
            said.append(
                f"The broker {self._where} came back without what it had for numbertaker: what boards reported meanwhile "
                "may be gone. They are asked for it. `numbertaker broker FOLDER` writes settings with which it is kept."
            )
        if has_boards and not self._is_heard and stood_s > SILENT_S:
            said.append(
                f"No board has been heard through the broker {self._where}. Are they switched on and on this broker, do "
                f"their topics begin with {self._root}, and does its access list let numbertaker read them? "
                "`numbertaker doctor FOLDER` proves the broker."
            )
        return tuple(said)
