"""Who works an evening, which mistakes can be chosen, and an evening made of them.

Rule: crews work timetable and moves; a script is worked only where one is given. A name that is neither noise, nor a fault,
nor a mistake of whoever works is refused by name, with the nearest known one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from bridge.core.plan import Railway
from bridge.virtual.crew.company import begin_s, company
from bridge.virtual.crew.mistakes import MISTAKES, MistakeError, chosen_mistakes, is_mistake, made_by
from bridge.virtual.evening import Evening
from bridge.virtual.faults import FAULTS, FaultError, chosen_faults, is_fault
from bridge.virtual.noise import NOISES, Noise, noise_of, physics_of
from bridge.virtual.script import Script, mistakes_of, read_script
from bridge.virtual.wishes import Wish, nearest


class StagingError(Exception):
    """An evening that cannot be staged, in words for people."""


@dataclass(frozen=True, slots=True)
class Stage:
    """A railway and the text of a script for it; `file` names the script in messages, "" where crews work the plan."""

    railway: Railway
    text: str = ""
    file: str = ""

    def choices(self) -> dict[str, str]:
        """Every name that `--faults` takes, with what it does."""
        return {**(mistakes_of(self.text) if self.file else MISTAKES), **NOISES, **FAULTS}

    def evening(self, seed: int, chosen: Iterable[str], noise: Noise | None = None) -> Evening:
        """An evening with these mistakes and faults, under the noise named among them unless another is given; raises
        `StagingError` or `ScriptError`."""
        names = list(dict.fromkeys(chosen))
        choices = self.choices()
        for name in names:
            if name not in choices and not is_fault(name) and not (is_mistake(name) and not self.file):
                close = nearest(Wish(name).name, choices)
                hint = f"The nearest is {close}." if close else "`--faults list` names them all."
                raise StagingError(f"There is no mistake {name!r}. {hint}")
        script = read_script(self.text, self.file, self.railway, names) if self.file else Script(begin_s(self.railway))
        physics = physics_of(names, self.railway, seed)
        try:
            faults = chosen_faults(filter(is_fault, names), self.railway, seed)
            mistakes = [] if self.file else chosen_mistakes(filter(is_mistake, names), self.railway, seed)
        except (FaultError, MistakeError) as error:
            raise StagingError(str(error)) from None
        noise = noise or noise_of(names)
        evening = Evening(self.railway, script, seed=seed, noise=noise, physics=physics, faults=faults, mistakes=names)
        if not self.file:
            evening.hire(company(evening.scene, seed, mishaps=lambda book: made_by(mistakes, book))[0])
        return evening


def stage(railway: Railway, script: Path | None = None) -> Stage:
    """Crews work the plan, or what the script says. Raises `StagingError` where a script cannot be read."""
    if script is None:
        return Stage(railway)
    try:
        text = script.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise StagingError(f"There is no script {script}.") from None
    except (OSError, UnicodeDecodeError) as error:
        raise StagingError(f"The script {script} cannot be read: {error}.") from None
    return Stage(railway, text, str(script))
