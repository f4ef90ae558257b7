"""The project's own Python environment, made once in `.environment/` and reused by `demo/run.py` and `tests/run.py`.

Rule: runs on any Python from 3.6 with its standard library alone, and what is missing is told in plain words with the
remedy. A note (`.environment/made-for.json`) says for which pyproject.toml, Python and place it was made: while that still
holds nothing is installed again.
"""

import contextlib
import fcntl
import hashlib
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".environment"
NOTE = FOLDER / "made-for.json"
OLDEST = (3, 11)


def ready(extra=""):
    """The path of the environment's Python, the project installed in it (`extra`: "" or "test"); exits where that fails."""
    complain_of_python()
    project = ROOT / "pyproject.toml"
    wanted = {
        "python": sys.version,
        "place": str(ROOT),
        "project": hashlib.sha256(project.read_bytes()).hexdigest(),
    }
    with project.open() as shared:
        fcntl.flock(shared, fcntl.LOCK_EX)  # demo and tests started together wait for each other
        found = note()
        same_python = all(found.get(key) == wanted[key] for key in ("python", "place"))
        if not (same_python and python().exists()):
            make()
            found = {}
        extras = found.get("extras", [])
        if found.get("project") != wanted["project"] or extra not in extras:
            install(extra)
            kept = extras if found.get("project") == wanted["project"] else []
            wanted["extras"] = sorted({*kept, "", extra})
            NOTE.write_text(json.dumps(wanted, indent=1) + "\n", encoding="utf-8")
    return str(python())


def python():
    """Where the environment's Python stands."""
    return FOLDER / "bin" / "python"


def note():
    """What the environment was made for; empty where nothing trustworthy says so."""
    with contextlib.suppress(OSError, ValueError):
        return dict(json.loads(NOTE.read_text(encoding="utf-8")))
    return {}


def complain_of_python():
    """Exit with the remedy where this Python is too old or lacks what makes an environment."""
    if sys.version_info[:2] < OLDEST:
        sys.exit(
            f"Numbertaker needs Python 3.11 or newer; this is Python {sys.version_info[0]}.{sys.version_info[1]}.\n"
            f"Install a newer one and start this with it, for example:  python3.11 {sys.argv[0]}"
        )
    try:
        import ensurepip  # noqa: F401
        import venv  # noqa: F401
    except ImportError as missing:
        sys.exit(missing_package(missing.name or "venv"))


def missing_package(module):
    """What to install where the system's Python comes without `module`."""
    said = f"This system's Python comes without its module '{module}', which makes the environment of Numbertaker.\n"
    if shutil.which("apt-get"):
        return said + "Install it and start this again:  sudo apt-get install python3-venv"
    return said + "Install your system's package for Python's venv and pip, and start this again."


def make():
    """A fresh, empty environment."""
    print(f"Making an environment in {FOLDER} (once) ...", flush=True)
    if subprocess.call([sys.executable, "-m", "venv", "--clear", str(FOLDER)]) != 0:
        sys.exit(missing_package("ensurepip"))


def install(extra):
    """Install the project and its libraries; changes to its files are seen without installing again."""
    print("Installing the libraries (once, needs the network) ...", flush=True)
    target = f"{ROOT}[{extra}]" if extra else str(ROOT)
    command = [str(python()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "--editable", target]
    if subprocess.call(command) != 0:
        sys.exit("The libraries could not be installed; pip says why above. Without a network it works only once they are.")


def become(command):
    """Go on as another program, which then gets every signal itself."""
    os.execv(command[0], command)
