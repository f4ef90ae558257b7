"""Where every vehicle is at an instant, worked out from rakes and runs alone: a judge that keeps no books of its own."""

from __future__ import annotations

from bridge.virtual.world import World

Piece = tuple[float, float, str]


def pieces_now(world: World, now_s: float) -> dict[str, list[Piece]]:
    """For each stretch: from and to (mm from its end 0) of every vehicle on it, in order."""
    found: dict[str, list[Piece]] = {}
    for key, rake in world.rakes.items():
        run = world.runs.get(key)
        covered_mm = run.profile.covered_mm(now_s - run.start_s) if run else 0.0
        for vehicle, low_mm, high_mm in rake.spans:
            for stretch, low, high in rake.swept(low_mm + covered_mm, high_mm + covered_mm):
                found.setdefault(stretch, []).append((low, high, vehicle.id))
    return {stretch: sorted(rows) for stretch, rows in found.items()}


def overlaps(world: World, pieces: dict[str, list[Piece]], near_mm: float) -> list[str]:
    """Vehicles in each other's place. In a throat, what is within `near_mm` of its roads' end may lie side by side."""
    wrong = []
    for stretch, rows in pieces.items():
        throat = world.railway.plant.throats.get(stretch)
        length_mm = world.track.length_mm(stretch)
        for n, (low, high, vehicle) in enumerate(rows):
            for other_low, other_high, other in rows[n + 1 :]:
                from_mm, to_mm = max(low, other_low), min(high, other_high)
                beside = throat is not None and (
                    to_mm <= near_mm if throat.end == "down" else from_mm >= length_mm - near_mm
                )
                if to_mm - from_mm > 0.05 and not beside:
                    wrong.append(f"{vehicle} and {other} on {stretch}")
    return wrong
