"""The commands, as they are called in a terminal.

Rule: what they print is what is compared, line for line.
"""

from __future__ import annotations

import sys
from contextlib import redirect_stdout
from io import StringIO
from pathlib import Path

from bridge.cli import main
from bridge.cli.demo import demonstration

COMMAND = [sys.executable, "-c", "import sys; from bridge.cli import main; sys.exit(main())"]


def printed(*words: str) -> str:
    """What a command prints."""
    out = StringIO()
    with redirect_stdout(out):
        assert main(list(words)) == 0
    return out.getvalue()


def said_again(store: Path) -> list[str]:
    """What `numbertaker replay --json` says of what `numbertaker capture` prints of a store, a line each."""
    capture = store.with_suffix(".capture")
    capture.write_text(printed("capture", str(store)), encoding="utf-8")
    return printed("replay", str(demonstration()), str(capture), "--json").splitlines()
