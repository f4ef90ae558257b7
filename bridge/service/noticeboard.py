"""The newest picture, and word of it to whoever asked to be told.

Rule: whoever looks on never holds the loop up. Pictures are handed round by a thread of their own, the newest only; a caller
back that fails is left out from then on.
"""

from __future__ import annotations

import threading
from collections.abc import Callable

from bridge.dashboard import Shown

Callback = Callable[[Shown], None]


class Noticeboard:
    """Holds the newest picture. Every method may be called from any thread and returns at once."""

    def __init__(self, log: Callable[[str], None]) -> None:
        self._log = log
        self._shown = Shown(0, {})
        self._callbacks: tuple[Callback, ...] = ()
        self._lock = threading.Lock()
        self._is_news = threading.Event()
        self._is_closed = False
        self._thread = threading.Thread(target=self._hand_round, name="noticeboard", daemon=True)
        self._thread.start()

    def latest(self) -> Shown:
        """The newest picture."""
        return self._shown

    def subscribe(self, callback: Callback) -> Callable[[], None]:
        """Have each new picture handed to `callback`; what is returned ends it."""
        with self._lock:
            self._callbacks = (*self._callbacks, callback)
        return lambda: self._leave(callback)

    def put_up(self, shown: Shown) -> None:
        """Show a picture in place of the last."""
        self._shown = shown
        self._is_news.set()

    def close(self) -> None:
        """Hand round nothing more; the last picture can still be looked at."""
        self._is_closed = True
        self._is_news.set()

    def _leave(self, callback: Callback) -> None:
        with self._lock:
            self._callbacks = tuple(other for other in self._callbacks if other is not callback)

    def _hand_round(self) -> None:
        while True:
            self._is_news.wait()
            if self._is_closed:
                return
            self._is_news.clear()
            shown = self._shown
            for callback in self._callbacks:
                try:
                    callback(shown)
                except Exception as error:  # whatever it is, it is the onlooker's own
                    self._leave(callback)
                    self._log(f"A page was left out, as it failed on the picture: {type(error).__name__}: {error}")
