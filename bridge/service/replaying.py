"""Records in, outcomes out: what a session said, or will have said, is always found here.

Rule: nothing but the records and the railway decides; no clock, no pace.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from bridge.core.learned import Learned
from bridge.core.outcomes import Outcome
from bridge.core.plan import Railway
from bridge.service.core import CORE
from bridge.service.folding import Core, Evening
from bridge.wire.records import Record


def replay(
    railway: Railway, records: Iterable[Record], core: Core = CORE, known: Learned | None = None
) -> Iterator[Outcome]:
    """What is said of these records, in order; they may be of several sessions. `known`: what those before have learned.

    Behind a session's end the next begins: journal numbers and outcome numbers count from 1 again, and nothing is said
    before its `begin`. A session without an end is closed at the last record. Raises FoldError where the core fails.
    """
    evening = Evening(core, railway, known=known)
    for record in records:
        yield from evening.follow(record)
        if evening.is_over:
            evening = Evening(core, railway, after_end=True, known=evening.learned())
    if evening.n:
        yield from evening.close()
