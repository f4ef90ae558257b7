"""Bytes of a file into text whose lines and columns are those an editor shows.

Rule: never raises. What cannot be read is told with its line and replaced, so that the rest is read all the same.
"""

from __future__ import annotations

from bridge.folder.finding import Findings, Spot

MOST_TOLD = 20
SAVE_AS = "Save the file as UTF-8 (in a spreadsheet: CSV UTF-8)."


def decoded(file: str, content: bytes, findings: Findings) -> str:
    """The text of a file, line ends made "\\n", without a byte order mark."""
    for mark, name in ((b"\xff\xfe", "UTF-16"), (b"\xfe\xff", "UTF-16")):
        if content.startswith(mark):
            findings.fault(Spot(file, 1, 1, ""), f"This file is written in {name}, not in UTF-8.", SAVE_AS)
            return _lines(content.decode("utf-16", errors="replace").lstrip("\ufeff"))
    content = content.removeprefix(b"\xef\xbb\xbf")
    try:
        text = _lines(content.decode("utf-8"))
    except UnicodeDecodeError:
        text = _tell_bytes(file, content, findings)
    if "\0" in text:
        _tell_nul(file, text, findings)
        text = text.replace("\0", "\N{REPLACEMENT CHARACTER}")
    return text


def _lines(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _tell_bytes(file: str, content: bytes, findings: Findings) -> str:
    lines = content.replace(b"\r\n", b"\n").replace(b"\r", b"\n").split(b"\n")
    bad: list[Spot] = []
    for number, line in enumerate(lines, 1):
        try:
            line.decode("utf-8")
        except UnicodeDecodeError as error:
            column = len(line[: error.start].decode("utf-8")) + 1
            bad.append(Spot(file, number, column, line.decode("utf-8", errors="replace")))
    for spot in bad[:MOST_TOLD]:
        findings.fault(spot, "There are bytes here that are not UTF-8.", SAVE_AS)
    if len(bad) > MOST_TOLD:
        findings.fault(bad[MOST_TOLD], f"{len(bad) - MOST_TOLD} lines from here on have bytes that are not UTF-8.", SAVE_AS)
    return b"\n".join(lines).decode("utf-8", errors="replace")


def _tell_nul(file: str, text: str, findings: Findings) -> None:
    for number, line in enumerate(text.split("\n"), 1):
        if "\0" in line:
            findings.fault(
                Spot(file, number, line.index("\0") + 1, line),
                "There is a NUL byte here: this is no text file, or it was damaged while it was copied.",
                "Restore the file from a copy, or save it again as text (UTF-8).",
            )
            return
