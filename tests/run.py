"""Run every test: sets up its own environment, then starts pytest with these arguments. Without any, all tests are run, a
file at a time on each of the processor's cores, but on four at the most."""

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "demo"))

import environment  # noqa: E402

ALL = ("--numprocesses=auto", "--maxprocesses=4", "--dist=loadfile")

if __name__ == "__main__":
    os.chdir(str(ROOT))
    environment.become([environment.ready("test"), "-m", "pytest", *(sys.argv[1:] or ALL)])
