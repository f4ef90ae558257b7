"""Asking the rules: each whose facts have changed, and the ledger says the difference.

Rule: a rule that raises is set aside for the session, and that is said as a danger; the rest goes on. What it had claimed
before stays as it was said: a danger is not over because nobody looks any more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from bridge.core.advice import may_go
from bridge.core.ledger import Claim
from bridge.core.rules import RULES, Rule

if TYPE_CHECKING:
    from bridge.core.state import State


def ask(state: State) -> None:
    """Ask each rule whose facts have changed; a failing one is set aside and said to be."""
    for fact, subject in state.touched:
        may_go.changed(state, fact, subject)
        for rule in RULES:
            if rule.fact == fact and rule.name not in state.set_aside:
                claims = _claims(state, rule, subject)
                if claims is not None:
                    state.ledger.reconcile(rule.name, subject, claims)
    state.touched.clear()


def _claims(state: State, rule: Rule, subject: str) -> list[Claim] | None:
    """What a rule claims; None where it failed."""
    try:
        return rule.claims(state, subject)
    except Exception as error:
        if state.strict:
            raise
        set_aside(state, rule.name, error)
        return None


def set_aside(state: State, name: str, error: Exception) -> None:
    """A rule failed: it is asked no more in this session, and that is said."""
    state.set_aside[name] = f"{type(error).__name__}: {error}"
    failed = Claim(
        "rule-failed",
        f"rule-failed:{name}",
        {"rule": name},
        f"The rule {name} failed and is set aside for this session ({state.set_aside[name]}).",
        "Go on with care: what this rule watches is not watched. Keep the capture and report it.",
        evidence=(state.journal_n,) if state.journal_n else (),
    )
    state.ledger.reconcile("rules", name, [failed])
