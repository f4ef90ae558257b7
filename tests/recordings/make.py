"""Write captures anew from their scenes, and what must be said of all captures: of every one, or of those that are named.

    .venv/bin/python tests/recordings/make.py [NAME ...]

Any Python does in which the project is installed. What has changed is shown: an expected file is believed only when a person
has read it line by line against the contract; what is written here is what the core says, be it right or wrong.
"""

from __future__ import annotations

import difflib
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parents[1]))

from tests.recordings.said import as_lines, said_of  # noqa: E402
from tests.recordings.scenes import SCENES  # noqa: E402


def write(path: Path, text: str) -> None:
    """Write a file, and show what is new in it."""
    before = path.read_text(encoding="utf-8") if path.exists() else ""
    path.write_text(text, encoding="utf-8")
    rows = difflib.unified_diff(before.splitlines(), text.splitlines(), path.name, path.name, n=0, lineterm="")
    for row in rows if path.suffix == ".jsonl" else ():
        print(row)


def main(names: list[str]) -> int:
    """Write what is asked for; 2 where a name is neither a scene's nor a capture's."""
    known = sorted({*SCENES, *(path.stem for path in HERE.glob("*.capture"))})
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"There is no recording {', '.join(unknown)}. There are: {', '.join(known)}.", file=sys.stderr)
        return 2
    for name in names or known:
        capture = HERE / f"{name}.capture"
        if name in SCENES:
            write(capture, SCENES[name]().text())
        text = capture.read_text(encoding="utf-8")
        write(HERE / f"{name}.expected.jsonl", as_lines(said_of(text)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
