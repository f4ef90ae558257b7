"""The example folder with a few cells changed, and what `check` says of it that it does not say of the example."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from bridge.folder import Finding, read

EXAMPLE = Path(__file__).parent / "example"
TEXTS = {path.name: path.read_text(encoding="utf-8") for path in sorted(EXAMPLE.iterdir())}


@cache
def _before() -> frozenset[str]:
    return frozenset(f.message for f in read({name: text.encode() for name, text in TEXTS.items()}).findings)


def changed(*changes: tuple[str, str, str], **files: str) -> dict[str, str]:
    """The texts after (file, old, new) replacements, and with whole files given by their name without ending."""
    texts = dict(TEXTS)
    for file, old, new in changes:
        assert texts[file].count(old) == 1, f"{old!r} must stand once in {file}"
        texts[file] = texts[file].replace(old, new)
    texts.update({f"{name}.csv": text for name, text in files.items()})
    return texts


def said(*changes: tuple[str, str, str], **files: str) -> list[Finding]:
    """What is new, but that stock stands nowhere; there must be no fault."""
    result = read({name: text.encode() for name, text in changed(*changes, **files).items()})
    assert result.railway is not None, result.findings
    return [f for f in result.findings if f.message not in _before() and "stand nowhere" not in f.message]


def conflicts(*changes: tuple[str, str, str], **files: str) -> list[Finding]:
    """The conflicts, after (file, old, new) replacements of files named without ending; there must be no fault."""
    whole = [("railway.toml" if file == "railway" else f"{file}.csv", old, new) for file, old, new in changes]
    result = read({name: text.encode() for name, text in changed(*whole, **files).items()})
    assert not any(f.level == "fault" for f in result.findings), result.findings
    assert result.railway is not None
    return [f for f in result.findings if f.level == "conflict"]


def conflict(*changes: tuple[str, str, str], **files: str) -> Finding:
    """The only conflict."""
    found = conflicts(*changes, **files)
    assert len(found) == 1, found
    return found[0]


def one(*changes: tuple[str, str, str], **files: str) -> Finding:
    """The only thing that is new."""
    found = said(*changes, **files)
    assert len(found) == 1, found
    return found[0]
