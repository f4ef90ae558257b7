"""`numbertaker check`: prove a railway folder before the evening begins.

Rule: whatever stands in the folder, the answer is findings with their places, never a traceback.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from bridge.cli.printing import printed
from bridge.folder import Finding, load, why_no_folder

HELP = "prove a railway folder: faults, conflicts and advice, each with file and line"
EPILOG = """example:
  numbertaker check my-railway
  numbertaker check my-railway --json

A fault shows in one row or table, or refers to nothing: `run` refuses the folder.
A conflict takes two rows, or plan against plant: it cannot be worked as written.
Exit status: 1 where there is a fault or a conflict, 0 where there is only advice, 2 on wrong usage."""


def add(commands: Any) -> None:
    """Register the command."""
    parser = commands.add_parser(
        "check", help=HELP, description=HELP, epilog=EPILOG, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("folder", metavar="FOLDER", type=Path, help="the folder in which railway.toml stands")
    parser.add_argument("--json", action="store_true", help="one object a line, for programs")
    parser.set_defaults(run=run)


def run(arguments: argparse.Namespace) -> int:
    """Print what is found; 1 where there is a fault or a conflict, 2 where FOLDER is none."""
    folder: Path = arguments.folder
    wrong = why_no_folder(folder)
    if wrong is not None:
        print(f"numbertaker check: {folder} {wrong}. Name the folder in which railway.toml stands.", file=sys.stderr)
        return 2
    read = load(folder)
    with printed(to_person=not arguments.json):
        if arguments.json:
            for finding in read.findings:
                print(json.dumps(finding.as_dict()))
        else:
            print(shown(read.findings))
    return int(any(finding.level in ("fault", "conflict") for finding in read.findings))


def shown(findings: Sequence[Finding]) -> str:
    """The findings for a person: one block each, grouped by level, and a summary."""
    blocks = [_block(finding) for level in ("fault", "conflict", "advice") for finding in findings if finding.level == level]
    return "\n\n".join([*blocks, summary(findings)])


def _block(finding: Finding) -> str:
    lines = [f"{finding.file}:{finding.line}:{finding.column}  {finding.level}  {finding.message}"]
    if finding.text:
        lines.append(f"    {finding.text}")
    lines.append(f"    -> {finding.remedy}")
    return "\n".join(lines)


def summary(findings: Sequence[Finding]) -> str:
    """The last line: how many of each, and what that means."""
    counts = Counter(finding.level for finding in findings)
    faults, conflicts, advice = counts["fault"], counts["conflict"], counts["advice"]
    said = f"{_number(faults, 'fault')}, {_number(conflicts, 'conflict')}, {advice} advice."
    if faults:
        return f"{said} The folder cannot be taken until its faults are put right."
    if conflicts:
        return f"{said} The folder can be taken, and cannot be worked as written."
    return f"{said} The folder is in order."


def _number(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"
