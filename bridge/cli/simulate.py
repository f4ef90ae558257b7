"""`numbertaker simulate`: virtual boards of a railway folder, with the truth beside them.

Rule: what it writes says how it came about (seed, mistakes), and comes about the same way again.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

from bridge.core.plan import Railway
from bridge.folder import load
from bridge.virtual.recording import Recording
from bridge.virtual.script import ScriptError
from bridge.virtual.staging import Stage, StagingError, stage

HELP = "virtual boards of a railway folder: a capture with its truth"
EPILOG = """example:
  numbertaker simulate demo/railway --seed 7 --faults wrong-road --out trial
  numbertaker replay demo/railway trial.capture
  numbertaker simulate demo/railway --faults list

The movements are those of the script in FOLDER (evening.script), or of --script.
Exit status: 1 where folder or script have faults, 2 on wrong usage."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "simulate", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder in which railway.toml stands")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="the same seed gives the same evening (1)")
    parser.add_argument(
        "--faults", default="", metavar="LIST", help="mistakes to plant, with commas between; `list` names them"
    )
    parser.add_argument("--out", default="simulated", metavar="PREFIX", help="writes PREFIX.capture and PREFIX.truth.json")
    parser.add_argument("--script", type=Path, metavar="FILE", help="another script than the folder's evening.script")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Write a capture and its truth."""
    try:
        railway = _railway(arguments.folder)
        if railway is None:
            return 1
        made = stage(railway, arguments.folder, arguments.script)
        if arguments.faults == "list":
            print(choices(made))
            return 0
        evening = made.evening(arguments.seed, chosen(arguments.faults))
        capture = Recording(evening).run()
    except StagingError as error:
        print(f"numbertaker simulate: {error}", file=sys.stderr)
        return 2
    except ScriptError as error:
        print(error, file=sys.stderr)
        return 1
    return _write(arguments.out, capture, evening.truth_json())


def chosen(faults: str) -> list[str]:
    """The names in a list with commas."""
    return [name.strip() for name in faults.split(",") if name.strip()]


def choices(made: Stage) -> str:
    """The mistakes that can be chosen, a line each."""
    names = made.choices()
    width = max(map(len, names))
    return "\n".join(f"{name:<{width}}  {what}" for name, what in names.items())


def _railway(folder: Path) -> Railway | None:
    read = load(folder)
    faults = [finding for finding in read.findings if finding.level == "fault"]
    for finding in faults:
        print(f"{finding.file}:{finding.line}:{finding.column}  {finding.message} {finding.remedy}", file=sys.stderr)
    return read.railway


def _write(prefix: str, capture: str, truth: str) -> int:
    try:
        for name, text in ((f"{prefix}.capture", capture), (f"{prefix}.truth.json", truth)):
            Path(name).write_text(text, encoding="utf-8")
            print(name)
    except OSError as error:
        print(f"numbertaker simulate: {error.filename} cannot be written: {error.strerror}.", file=sys.stderr)
        return 1
    return 0
