"""The core as the service uses it, in one value."""

from __future__ import annotations

from bridge.core import fold, state, view
from bridge.core.operator import words
from bridge.service.folding import Core


def _fresh(after_end: bool) -> state.State:
    made = state.fresh()
    made.ledger.silent = after_end
    return made


def _misword(told: str) -> str | None:
    read = words.parse(told)
    return f"{read.text} {read.remedy}" if isinstance(read, words.Misword) else None


CORE = Core(
    fresh=_fresh,
    fold=fold.fold,
    due=fold.due,
    close=fold.close,
    view=view.view,
    misword=_misword,
    reply=lambda now: now.reply,
    learned=fold.learned,
)
