"""`numbertaker replay`: a capture through the core at full speed.

Rule: it says what the live session said. Whatever irregularities that were, they are results and no errors.
"""

from __future__ import annotations

import argparse
import gzip
import io
import json
import sys
import time
import zlib
from collections.abc import Callable, Iterable, Iterator
from contextlib import ExitStack, contextmanager
from itertools import chain, islice
from pathlib import Path
from typing import Any

from bridge.audit.names import Names
from bridge.audit.sentences import sentence
from bridge.cli.folders import taken
from bridge.cli.printing import Printer, complain, printed
from bridge.core.learned import LEARNED, Learned
from bridge.core.plan import Railway
from bridge.service.folding import FoldError
from bridge.service.replaying import replay
from bridge.wire.capture import CaptureFault, read_capture
from bridge.wire.records import Record

HELP = "put a capture through the core at full speed and print what it says"
EPILOG = """example:
  numbertaker replay my-railway evening.capture
  numbertaker replay my-railway evening.capture --json > evening.jsonl
  numbertaker capture my-railway/example.store | numbertaker replay my-railway -

Lines of the capture that cannot be read are told on stderr with their number; the rest goes on.
Exit status: 0 whatever irregularities are said, 1 where folder or capture cannot be read, 2 on wrong usage."""

GZIP = b"\x1f\x8b"
PROGRESS_S = 1.0


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "replay", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder in which railway.toml stands")
    parser.add_argument("capture", metavar="CAPTURE", help="a capture file, gzipped or not; - for standard input")
    parser.add_argument("--json", action="store_true", help="one object a line, for programs")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print what is said of a capture; 1 where folder or capture cannot be read."""
    read = taken(arguments.folder)
    if read is None or read.railway is None:
        return 1
    given = _Given(arguments.capture)
    say = _as_json if arguments.json else _as_sentences(read.railway)
    try:
        with printed():
            printer = Printer()
            records = given.records()
            first = list(islice(records, 1))  # by now what stands before it has been read
            for outcome in replay(read.railway, chain(first, records), known=given.known):
                printer.line(say(outcome.as_dict()))
    except (OSError, EOFError, zlib.error) as error:
        complain("replay", f"{given.name} cannot be read: {getattr(error, 'strerror', None) or error}.")
        return 1
    except FoldError as error:
        complain("replay", f"{error}. This is an error of the program: please report it with the capture.")
        return 1
    except KeyboardInterrupt:
        return 130
    if given.has_no_record:
        complain("replay", f"{given.name} is no capture: none of its lines can be read as one.")
    return int(given.has_no_record)


class _Given:
    """The capture that was named; faults are told while its records are read."""

    def __init__(self, path: str) -> None:
        self.name = "standard input" if path == "-" else path
        self._path = path
        self._count = 0
        self._faults = 0
        self._progress = _Progress()
        self.known: Learned | None = None
        """What the capture's first session began with of what earlier ones had learned, once its first record is read."""

    @property
    def has_no_record(self) -> bool:
        """True where there were lines, and none of them could be read."""
        return self._faults > 0 and self._count == 0

    def records(self) -> Iterator[Record]:
        """The records, in order."""
        with _opened(self._path) as lines:
            for record in read_capture(self._with_what_is_known(lines)):
                if isinstance(record, CaptureFault):
                    self._faults += 1
                    print(f"{self.name}:{record.line_no}: {record.message} {record.remedy}", file=sys.stderr)
                    continue
                self._count += 1
                self._progress.show(self._count)
                yield record
        self._progress.end()

    def _with_what_is_known(self, lines: Iterable[bytes]) -> Iterator[bytes]:
        """The lines; of those before the first record, what a session began with is noted."""
        for number, line in enumerate(lines, 1):
            if self._count == 0 and line.startswith(LEARNED.encode()):
                try:
                    self.known = Learned.from_text(line.removeprefix(LEARNED.encode()).decode())
                except ValueError as error:
                    print(
                        f"{self.name}:{number}: What earlier sessions have learned cannot be read: {error}. "
                        "Leave the line as it was printed; readers and tags are taken for new ones now.",
                        file=sys.stderr,
                    )
            yield line


@contextmanager
def _opened(path: str) -> Iterator[Iterable[bytes]]:
    with ExitStack() as stack:
        raw = sys.stdin.buffer if path == "-" else stack.enter_context(Path(path).open("rb"))
        is_gzip = isinstance(raw, io.BufferedReader) and raw.peek(2)[:2] == GZIP
        yield stack.enter_context(gzip.open(raw)) if is_gzip else raw


class _Progress:
    """How far it has come, on a terminal only, where nothing else is printed to it."""

    def __init__(self) -> None:
        self._is_shown = sys.stderr.isatty() and not sys.stdout.isatty()
        self._next_at = time.monotonic() + PROGRESS_S

    def show(self, count: int) -> None:
        """Show how many lines have been read, now and then."""
        if self._is_shown and count % 100 == 0 and time.monotonic() >= self._next_at:
            self._next_at = time.monotonic() + PROGRESS_S
            print(f"\r{count:,} lines", end="", file=sys.stderr, flush=True)

    def end(self) -> None:
        """Leave the line to what comes next."""
        if self._is_shown:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)


def _as_json(row: dict[str, Any]) -> str:
    return json.dumps(row, ensure_ascii=False)


def _as_sentences(railway: Railway) -> Callable[[dict[str, Any]], str]:
    names = Names(railway)

    def line(row: dict[str, Any]) -> str:
        level = f"{row['level']}: " if row["says"] == "irregularity" and row["status"] == "open" else ""
        return f"{row['clock'] or '--:--:--'}  {level}{sentence(row, names)}"

    return line
