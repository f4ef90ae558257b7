"""Scenes of the Bracken Shuttle, whose one train is pulled and pushed past a reader at each end of its section."""

from __future__ import annotations

from collections.abc import Collection

from ..scene import Scene

PULLED = ("e1", "c1", "c2", "c3", "c4")
TO_BRACKEN = ("moss", "bracken", PULLED)
TO_MOSS = ("bracken", "moss", PULLED[::-1])


def _runs(s: Scene, start: str, goal: str, train: tuple[str, ...], missed: Collection[str]) -> Scene:
    """s1 runs from one platform to the other; Mossend's reader misses these of its vehicles."""
    for limit, throat, platform in ((start, "on", "off"), (goal, "on", "on")):
        read = [v for v in train if limit != "moss" or v not in missed]
        s.report(f"{limit}-throat", throat, after=12.0)
        if limit == start:
            s.on("line", after=2.0)
        first = read[0] if read[:1] == [train[0]] else None
        if first is not None:
            s.read(f"{limit}-limit", first, after=0.2)
        s.wait(0.2 if first is None else 0.0)
        for vehicle in train[1:]:
            s.wait(1.0)
            if vehicle in read:
                s.read(f"{limit}-limit", vehicle, after=0.0)
            if vehicle == train[2]:
                s.report(f"{limit}-platform", platform, after=0.1)
        if limit == goal:
            s.off("line", after=0.5)
        s.off(f"{limit}-throat", after=1.5)
    return s.wait(6.0)


def _to_and_fro(s: Scene, times: int, *missed: str) -> Scene:
    """So many runs there and back, and Mossend's reader misses the same vehicles on each."""
    for _ in range(times):
        for way in (TO_BRACKEN, TO_MOSS):
            s = _runs(s, *way, missed)
    return s


def reader_weak() -> Scene:
    """Mossend's reader misses two of five, then reads well."""
    s = Scene(
        "s1 runs to and fro between Mossend and Bracken Road. The reader at Mossend misses c2 and c3, whose tags hang",
        "higher than the others; somebody raises the reader a little, and it reads them all.",
        folder="shuttle",
        begin="10:00",
    )
    return _to_and_fro(_to_and_fro(s.wait(60.0), 2, "c2", "c3"), 3).wait(12.0)


def reader_dead() -> Scene:
    """Mossend's reader reads nothing."""
    s = Scene(
        "s1 runs from Mossend to Bracken Road and back; the plug of the reader at Mossend has come out: it reads nothing.",
        folder="shuttle",
        begin="10:00",
    )
    return _to_and_fro(s.wait(60.0), 2, *PULLED)


def near_reader_weak() -> Scene:
    """Mossend's reader misses one of five."""
    s = Scene(
        "s1 runs to and fro between Mossend and Bracken Road, and the reader at Mossend misses c2 each time: one of five.",
        folder="shuttle",
        begin="10:00",
    )
    return _to_and_fro(s.wait(60.0), 3, "c2").wait(12.0)


SCENES = {"reader-weak": reader_weak, "reader-weak-dead": reader_dead, "near-reader-weak": near_reader_weak}
