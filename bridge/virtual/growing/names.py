"""Names of places and roads, put together from syllables.

Rule: every name is invented, and no two stations of a railway have the same; the id is the name in small letters, short
enough to name a board with a number behind it.
"""

from __future__ import annotations

from random import Random

FIRST = (
    "Bra",
    "Cor",
    "Dun",
    "Fel",
    "Gar",
    "Hol",
    "Im",
    "Jur",
    "Kel",
    "Lor",
    "Mur",
    "Nor",
    "Os",
    "Pel",
    "Quil",
    "Rus",
    "Sel",
    "Tor",
    "Ul",
    "Ver",
    "Wim",
    "Yar",
    "Zin",
)
MIDDLE = ("", "ba", "de", "li", "mo", "nu", "pe", "ri", "so", "ta", "va")
LAST = (
    "brook",
    "combe",
    "croft",
    "dale",
    "ferry",
    "gate",
    "holt",
    "hythe",
    "low",
    "marsh",
    "mere",
    "moor",
    "quay",
    "ridge",
    "stow",
    "thorpe",
    "wharf",
    "worth",
)

SIDINGS = (
    "goods",
    "coal",
    "dairy",
    "mill",
    "timber",
    "cattle",
    "brickyard",
    "maltings",
    "gasworks",
    "quarry",
    "creamery",
    "foundry",
    "tannery",
    "wharf",
    "cannery",
    "granary",
    "pottery",
    "laundry",
    "orchard",
    "sawmill",
    "ropeworks",
    "limekiln",
    "chandlery",
    "smithy",
)


def station_names(count: int, chance: Random) -> list[tuple[str, str]]:
    """So many stations, each with its id and its name."""
    found: dict[str, str] = {}
    while len(found) < count:
        name = chance.choice(FIRST) + chance.choice(MIDDLE) + chance.choice(LAST)
        again = sum(1 for other in found.values() if other.partition(" ")[0] == name)
        if again and len(found) < len(FIRST) * len(LAST):
            continue
        shown = f"{name} {again + 1}" if again else name
        found[shown.lower().replace(" ", "-")] = shown
    return list(found.items())
