"""What the rooms may know of each other: data flows one way.

Rules of this project, no source.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path

import networkx as nx
import pytest

ROOT = Path(__file__).resolve().parents[1]

#: Rooms of ``sim``: each may import those before it, and no other.
ORDER = (
    "pieces",
    "records",
    "scenario",
    "layout",
    "power",
    "circuit",
    "run",
    "drive",
    "analyses.survey",
    "analyses.odds",
    "analyses.handwork",
    "analyses.search",
    "analyses.neighbours",
    "bench.readings",
    "bench.diagnosis",
    "bench.learning",
    "bench.worksheet",
    "begin",
    "judge",
    "pages",
    "command",
)

#: Rooms that have rooms in them.
HOUSES = {"analyses", "bench"}

#: Reading a file is checking it, and to check it the layout has to be put together.
#: Only the reader may look ahead; the models it fills know nothing of layouts.
LOOKS_AHEAD = {("sim.scenario.read", "layout")}

#: Rooms that describe and need nothing else, and what they may import of ``sim``.
ALONE = {"pieces": set[str](), "records": set[str]()}


def modules(package: str) -> dict[str, Path]:
    """Every module of a package by its dotted name."""
    found = {}
    for path in sorted((ROOT / package).rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


SIM, VIEWER = modules("sim"), modules("viewer")


def imports(path: Path, run_time_only: bool = False) -> Iterator[str]:
    """Dotted names that a module imports.

    With ``run_time_only`` those that are imported as soon as it is: not the ones
    inside functions, and not the ones for type checkers.
    """
    todo: list[ast.AST] = [ast.parse(path.read_text(encoding="utf-8"))]
    while todo:
        node = todo.pop()
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports are not used here"
            yield node.module or ""
            # "from package import module" names a module, too
            yield from (f"{node.module}.{alias.name}" for alias in node.names)
        if run_time_only and (
            isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef))
            or (isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test))
        ):
            continue
        todo += ast.iter_child_nodes(node)


def room_of(name: str) -> str | None:
    """The room that a module of ``sim`` stands in, or None where it stands in none."""
    parts = name.split(".")
    if parts[0] != "sim" or len(parts) < 2:
        return None
    if parts[1] in HOUSES:
        return ".".join(parts[1:3]) if len(parts) > 2 else None
    return parts[1]


def test_the_finder_finds_imports(tmp_path: Path) -> None:
    path = tmp_path / "made.py"
    path.write_text(
        "import sim.a.b\nfrom sim.c import d\n"
        "if TYPE_CHECKING:\n    import sim.e\n"
        "def f():\n    import viewer\n"
    )
    everything = {"sim.a.b", "sim.c", "sim.c.d", "sim.e", "viewer"}
    assert set(imports(path)) == everything
    assert set(imports(path, run_time_only=True)) == everything - {"sim.e", "viewer"}


def test_every_room_has_its_place_in_the_order() -> None:
    rooms = {room for name in SIM if (room := room_of(name))}
    unplaced = rooms - set(ORDER)
    assert not unplaced, f"give {unplaced} a place in ORDER, and a line in DEVELOPERS.md"


@pytest.mark.parametrize("name", [name for name in SIM if room_of(name) in ORDER])
def test_a_room_imports_only_rooms_before_it(name: str) -> None:
    room = room_of(name)
    assert room is not None
    may = {room, *ORDER[: ORDER.index(room)]} if room not in ALONE else {room, *ALONE[room]}
    for imported in imports(SIM[name]):
        other = room_of(imported)
        if imported.startswith("sim.") and (name, other) not in LOOKS_AHEAD:
            assert other in may, f"{name} imports {imported}"


def test_sim_never_imports_the_viewer_nor_a_window() -> None:
    for name, path in SIM.items():
        tops = {imported.split(".")[0] for imported in imports(path)}
        assert not tops & {"viewer", "pygame"}, name


def test_the_viewer_does_not_reach_into_commands_of_sim() -> None:
    """It may use the frame that all commands share, and no command."""
    shared = {
        "sim.command",
        "sim.command.frame",
        "sim.command.options",
        "sim.command.progress",
    }
    for name, path in VIEWER.items():
        used = {i for i in imports(path) if i.startswith("sim.command") and i in SIM}
        assert used <= shared, name


def test_no_module_imports_itself_in_a_circle() -> None:
    graph: nx.DiGraph[str] = nx.DiGraph()
    everything = SIM | VIEWER
    for name, path in everything.items():
        for imported in imports(path, run_time_only=True):
            if imported in everything and imported != name:
                graph.add_edge(name, imported)
    assert graph.number_of_edges() > 100
    circles = [sorted(c) for c in nx.strongly_connected_components(graph) if len(c) > 1]
    assert circles == []


def test_order_holds_no_room_twice() -> None:
    assert all(a != b for a, b in pairwise(sorted(ORDER)))


def test_help_loads_no_library_that_it_does_not_need() -> None:
    code = (
        "import sys; from sim.command.main import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        "print(sorted({m.split('.')[0] for m in sys.modules}"
        " & {'pygame', 'numpy', 'scipy', 'simpy', 'networkx', 'pydantic', 'rich'}))"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60
    )
    assert told.stdout.splitlines()[-1] == "[]"
