"""What conditioning hands on: observations of detectors and changes of boards, as values.

Rule: an observation says what a detector saw and when, never what that means for a train; `moves` is true only where a
`report` line changed something, so that no `state` line can ever move a vehicle.
"""

from __future__ import annotations

from dataclasses import dataclass

from bridge.wire.lines import Report


@dataclass(frozen=True, slots=True)
class Observation:
    """What one detector saw.

    `n`: the journal number of the line (or event) it rests on; of a deadline, that of the line it follows from. `t`: host
    seconds from which it holds. `happened_t`: when it happened, by the board's clock, in host seconds, never after `t`; for
    a track that counts as clear the moment its input went off. `state`: track "occupied", "clear"; treadle "passed";
    points, power, token-rest "on", "off"; proof "proved", "not-proved"; all but the treadle also "unknown"; a reader None.
    A treadle says "passed" once more, with `moves` false, where so many axles follow that it is the passing of a train.
    `tag`: upper-case hexadecimal, of a reader or of what lies on a token-rest.
    """

    n: int | None
    t: float
    happened_t: float
    detector: str
    kind: str
    state: str | None
    tag: str | None = None
    moves: bool = False


@dataclass(frozen=True, slots=True)
class BoardChange:
    """Something about a board. `n` and `t` as in `Observation`; keys that do not apply are None.

    | kind | what |
    | --- | --- |
    | `heard` | the first line or reading of the session |
    | `lost` | no sign since `since_t`; `why` "silent", "link down", "port closed", "broker lost", "never heard" |
    | `back` | a line after `lost`; `since_t` as it was lost |
    | `new_boot` | it started again, now with `boot` |
    | `gap` | the numbers `first` to `last` of `boot` are proved lost |
    | `gap_filled` | of the gap `first` to `last` nothing is missing any more |
    | `gap_overdue` | it was not filled in time; `why` "restated" where all inputs have been stated since |
    | `restated` | all inputs that the folder names have been stated since the gap `first` to `last` |
    | `unknown_input` | a line of `input`, which the folder does not name (said once an input) |
    | `unfit_value` | a value that the detector at `input` cannot have, in `why` (said once an input) |
    | `stranger` | a board that the folder does not name (said once a board) |
    """

    kind: str
    board: str
    t: float
    n: int | None
    boot: int | None = None
    first: int | None = None
    last: int | None = None
    since_t: float | None = None
    why: str | None = None
    input: int | None = None


@dataclass(frozen=True, slots=True)
class Late:
    """A report that came after others that happened later: `n` its journal number, `t` when it came (host seconds).

    `happened_t`: when it happened, by its board's clock, in host seconds. `order` sorts the lines of its boot. `whole`: no
    number of its board was missing when it came, so that until then nothing else had happened there.
    """

    n: int
    t: float
    happened_t: float
    order: tuple[int, int]
    line: Report
    whole: bool = True


@dataclass(frozen=True, slots=True)
class Conditioned:
    """What one event has come to. `late` is evidence of the past: it counts once it is put in its place. `repeated`: a line
    that had counted before. `changed`: detectors whose inputs have changed, be that news or not."""

    observations: tuple[Observation, ...] = ()
    changes: tuple[BoardChange, ...] = ()
    late: tuple[Late, ...] = ()
    repeated: bool = False
    changed: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Evidence:
    """The line or event that something rests on.

    `order` sorts the lines of one boot: (board milliseconds, number). `follows`: no higher number of its boot was received
    before it, so that it is the youngest whatever its milliseconds. `of_this_boot`: not of one that is over.
    """

    n: int | None
    t: float
    happened_t: float
    moves: bool = False
    stated: bool = False
    order: tuple[int, int] = (0, 0)
    follows: bool = True
    of_this_boot: bool = True
