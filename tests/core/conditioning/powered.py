"""Track power: a power detector, and eight tracks under none, which a short circuit may clear at once."""

from __future__ import annotations

from bridge.core.plant import DetectorKind

from .conftest import Scene

POWER = {"id": "power", "kind": DetectorKind.POWER, "board": "birch", "input": 9, "feeds": ("alder.dock", "alder-birch")}
TRACKS = {
    f"t{n}": {"id": f"t{n}", "kind": DetectorKind.TRACK, "board": "alder", "input": 20 + n, "covers": "alder.yard",
              "clear_after_ms": 1000.0}
    for n in range(8)
}  # fmt: skip


def words(scene: Scene, *numbers: int) -> set[str]:
    return {scene.word(f"t{n}") for n in numbers}


def trip(scene: Scene, t: float = 10.0, *numbers: int, step: float = 0.05) -> None:
    for i, n in enumerate(numbers or (0, 1, 2)):
        scene.report(t + i * step, 20 + n, "off")
