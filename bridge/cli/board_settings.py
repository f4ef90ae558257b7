"""The settings of the firmware in `firmware_notes/avr-board/`, for a board of a railway folder.

Rule: what that firmware cannot take is refused with the remedy, never left out. Whether a reading is turned about is the
folder's business (`invert`), so the firmware is told to turn nothing about.
"""

from __future__ import annotations

from collections.abc import Sequence

from bridge.core.plant import Detector, DetectorKind, Plant

PINS = (2, 3, 4, 5, 6, 7, 9, 10, 11, 12, 14, 15, 16, 17, 18, 19)
"""In the order in which inputs get them."""
READER_PIN = 8
"""The reader's; without a reader the last input's."""


class DoesNotFitError(Exception):
    """A board with more than this firmware takes: what, and the remedy."""


def settings_of(plant: Plant, board: str) -> str:
    """The text of `settings.h` for a board of the plant. Raises `DoesNotFitError`."""
    reader, contacts = _divided(detectors_of(plant, board), board)
    pins = PINS if reader else (*PINS, READER_PIN)
    if len(contacts) > len(pins):
        beyond = ", ".join(detector.id for detector in contacts[len(pins) :])
        raise DoesNotFitError(
            f"Board {board} has {len(contacts)} inputs{' beside its reader' if reader else ''}; this firmware takes "
            f"{len(pins)}. Give {beyond} another board: a [[board]] more in railway.toml, and its id as their `board`."
        )
    rows = [_row(detector, pin) for detector, pin in zip(contacts, pins, strict=False)]
    return _TEXT.format(
        railway=plant.id,
        board=board,
        link=_OVER_SERIAL if plant.boards[board].link != "serial" else "",
        inputs=" \\\n".join(["#define INPUTS(INPUT)", *rows]),
        reader=_reader(reader),
    )


def detectors_of(plant: Plant, board: str) -> list[Detector]:
    """A board's detectors by the number of their input."""
    return sorted((d for d in plant.detectors.values() if d.board == board), key=lambda detector: detector.input)


def place_of(detector: Detector) -> str:
    """The part of the railway that a detector is about, as railway.toml names it."""
    match detector.kind:
        case DetectorKind.PROOF:
            return detector.guards or ""
        case DetectorKind.TOKEN_REST:
            return f"{detector.token}@{detector.station}"
        case DetectorKind.POWER:
            return " ".join(detector.feeds)
    return detector.covers or detector.at or ""


def what_on_means(detector: Detector) -> str | None:
    """What it means that the input is on, the folder's `invert` counted in; None of a reader, which tells tags."""
    if detector.kind is DetectorKind.READER:
        return None
    on, off = _meanings(detector)
    return off if detector.invert else on


def _meanings(detector: Detector) -> tuple[str, str]:
    """What it means that the detector says on, and off."""
    match detector.kind:
        case DetectorKind.TREADLE:
            what = {"engine": "an engine", "tail": "a train's last vehicle"}.get(detector.sees or "", "a vehicle")
            return f"{what} passes", "nothing passes"
        case DetectorKind.POINTS:
            return (
                f"points lie for {' '.join(detector.on) or 'another road'}",
                f"points lie for {' '.join(detector.off) or 'another road'}",
            )
        case DetectorKind.PROOF:
            return "proved", "not proved"
        case DetectorKind.TOKEN_REST:
            return "the token lies there", "the token is away"
        case DetectorKind.POWER:
            return "fed", "without power"
    return "occupied", "clear"


def _divided(detectors: Sequence[Detector], board: str) -> tuple[Detector | None, list[Detector]]:
    """The one detector on the reader's line, if any, and those on pins of their own."""
    readers = [detector for detector in detectors if detector.kind is DetectorKind.READER]
    if len(readers) > 1:
        others = ", ".join(detector.id for detector in readers[1:])
        raise DoesNotFitError(
            f"Board {board} has {len(readers)} readers; this firmware takes one. Keep {readers[0].id} and give each of the "
            f"others ({others}) a board of its own: another [[board]] in railway.toml, and its id as the reader's `board`."
        )
    rests = [detector for detector in detectors if detector.kind is DetectorKind.TOKEN_REST]
    if not readers and len(rests) == 1:
        readers = rests
    return (readers[0] if readers else None), [detector for detector in detectors if detector not in readers]


def _row(detector: Detector, pin: int) -> str:
    what = f"{_pin_name(pin)}: {detector.id}, {detector.kind}; on: {what_on_means(detector)}"
    return f"    INPUT({detector.input}, {pin}, 0) /* {what} */"


def _pin_name(pin: int) -> str:
    return f"D{pin}" if pin < 14 else f"A{pin - 14}"


def _reader(detector: Detector | None) -> str:
    if detector is None:
        return "#define READER READER_NONE\n"
    rests = int(detector.kind is DetectorKind.TOKEN_REST)
    return (
        f"/* {detector.id}, {detector.kind}: its output to pin 8. READER_BARE for a radio part alone. */\n"
        f"#define READER READER_SERIAL\n#define READER_INPUT {detector.input}\n"
        f"#define READER_RESTS {rests}\n#define READER_INVERTED 0\n"
    )


_OVER_SERIAL = """ * railway.toml has this board on MQTT; this firmware speaks over serial. Write link = "serial" there.
"""

_TEXT = """/* Board {board} of {railway}: settings.h of firmware_notes/avr-board/, printed by `numbertaker boards`.
 *
 * An input is on when its pin is pulled to ground. Pins may be changed by hand: 2 to 12 and 14 to 19 (A0 to A5).
{link} */
#ifndef SETTINGS_H
#define SETTINGS_H

#define BOARD "{board}"

/* INPUT(number in railway.toml, pin, 1 where on and off are to change places) */
{inputs}

{reader}
#define DEBOUNCE_MS 8

#endif
"""
