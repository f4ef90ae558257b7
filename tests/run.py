"""Run every test: sets up its own environment, then starts pytest with these arguments (all tests where there are none)."""

import os
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT / "demo"))

import environment  # noqa: E402

if __name__ == "__main__":
    os.chdir(str(ROOT))
    environment.become([environment.ready("test"), "-m", "pytest", *sys.argv[1:]])
