"""What the virtual railway may know: folder, plant, plan and wire, and nothing that the bridge infers from what it hears."""

from __future__ import annotations

import ast
from pathlib import Path

import bridge.virtual

ROOMS = Path(bridge.virtual.__file__).parent
KNOWN = ("bridge.core.plan.", "bridge.core.plant.", "bridge.folder.", "bridge.wire.", "bridge.virtual.")


def imported(module: Path) -> set[str]:
    """The modules of the bridge that a module imports."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(module.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            found.add(node.module or "." * node.level)
        elif isinstance(node, ast.Import):
            found.update(alias.name for alias in node.names)
    return {name for name in found if name.startswith((".", "bridge"))}


def test_virtual_knows_folder_plant_plan_and_wire_only() -> None:
    modules = sorted(ROOMS.rglob("*.py"))
    assert {module.parent.name for module in modules} >= {"virtual", "crew", "growing"}
    wrong = {str(m): name for m in modules for name in imported(m) if not f"{name}.".startswith(KNOWN)}
    assert wrong == {}
