"""The house rules: imports run one way, files and terminal are touched at the edge only, nothing grows too large."""

import ast
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "facegraphic"
# Left to right; a room may import itself and what stands to its left.
ROOMS = (
    "units", "errors", "geometry", "stock", "drill", "lettering", "job", "layout", "scene", "film", "masks", "preview",
    "checks", "planning", "output", "pipeline", "page", "cli",
)  # fmt: skip
EDGE = {"job", "output", "page", "cli"}
NETWORK = {"socket", "ssl", "urllib", "http", "requests", "ftplib", "smtplib", "subprocess", "asyncio"}
# The page is a server: it alone may listen, and only there is work done side by side.
SERVER = {"socket", "asyncio"}
TERMINAL = {"print", "input", "breakpoint"}
DISK = {"open"}
DISK_MODULES = {"os", "shutil", "tempfile", "glob", "fileinput"}
DISK_METHODS = {"write_bytes", "write_text", "unlink", "mkdir", "rename", "touch", "chmod"}
READ_METHODS = {"read_bytes", "read_text", "iterdir", "is_file", "is_dir", "exists", "glob", "rglob", "stat", "open"}
# These read what comes with packages, through importlib.resources.
PACKAGE_READERS = {"stock.tables", "stock.limits", "lettering.library"}

Sources = Mapping[str, str]


def sources() -> dict[str, str]:
    """Every module of the package by dotted name below it."""
    found = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        found[".".join(part for part in parts if part != "__init__")] = path.read_text(encoding="utf-8")
    return found


def room(module: str) -> str:
    return module.split(".")[0]


def imports(text: str) -> Iterator[str]:
    """Full names of all modules that a text imports, wherever in it."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.level:
            yield "facegraphic.a relative import"
        elif isinstance(node, ast.ImportFrom) and node.module == "facegraphic":
            yield from (f"facegraphic.{alias.name}" for alias in node.names if not alias.name.startswith("__"))
        elif isinstance(node, ast.ImportFrom):
            yield node.module or ""


def arrows_back(modules: Sources) -> list[str]:
    """Imports of a room from a room to its right, or from one that isn't on the plan."""
    wrong = []
    for module, text in modules.items():
        if room(module) in ("", "__main__"):
            continue
        for name in imports(text):
            if name.startswith("facegraphic."):
                other = name.split(".")[1]
                if other not in ROOMS or ROOMS.index(other) > ROOMS.index(room(module)):
                    wrong.append(f"{module} imports {name}")
    return wrong


def circles(modules: Sources) -> list[str]:
    """Modules that import themselves by way of others."""
    known = {f"facegraphic.{module}": module for module in modules if module}
    graph = {module: {known[name] for name in imports(text) if name in known} for module, text in modules.items()}

    def reached(module: str, seen: frozenset[str] = frozenset()) -> frozenset[str]:
        for other in graph[module] - seen:
            seen = reached(other, seen | {other})
        return seen

    return [f"{module} imports itself in the end" for module in graph if module in reached(module)]


def edge_faults(modules: Sources) -> list[str]:
    """Terminal, disk and network where they may not be."""
    wrong = []
    for module, text in modules.items():
        for name in imports(text):
            first, inside = name.split(".")[0], room(module) not in EDGE
            network = NETWORK - SERVER if room(module) == "page" else NETWORK
            if first in network or (first == "click" and room(module) != "cli") or (inside and first in DISK_MODULES):
                wrong.append(f"{module} imports {name}")
            if first == "pathlib" and inside and room(module) != "pipeline":  # which hands paths on, and reads none
                wrong.append(f"{module} imports {name}")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name):
                banned = TERMINAL if room(module) in EDGE else TERMINAL | DISK
                if node.func.id in banned:
                    wrong.append(f"{module} calls {node.func.id}")
            elif isinstance(node, ast.Attribute) and room(module) not in EDGE:
                reads = READ_METHODS if module not in PACKAGE_READERS else set()
                if node.attr in DISK_METHODS | reads:
                    wrong.append(f"{module} uses .{node.attr}")
    return wrong


def sizes(modules: Sources) -> list[str]:
    """Files over 400 lines, functions over 60, more than six parameters."""
    wrong = []
    for module, text in modules.items():
        if text.count("\n") > 400:
            wrong.append(f"{module} is too long")
        for node in ast.walk(ast.parse(text)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                if (node.end_lineno or node.lineno) - node.lineno + 1 > 60:
                    wrong.append(f"{module}.{node.name} is too long")
                arguments = node.args.posonlyargs + node.args.args + node.args.kwonlyargs
                if len([a for a in arguments if a.arg not in ("self", "cls")]) > 6:
                    wrong.append(f"{module}.{node.name} has too many parameters")
    return wrong


def test_every_module_is_in_a_room_of_the_plan() -> None:
    modules = sources()
    assert len(modules) > 50
    assert {room(module) for module in modules} <= {*ROOMS, "", "__main__"}


def test_imports_run_one_way() -> None:
    assert arrows_back(sources()) == []


def test_no_module_imports_itself_by_way_of_others() -> None:
    assert circles(sources()) == []


def test_a_planted_circle_is_seen() -> None:
    ring = {"film.a": "from facegraphic.film.b import x", "film.b": "def f():\n    import facegraphic.film.a"}
    assert len(circles(ring)) == 2
    assert circles({**ring, "film.b": "import math"}) == []


def test_terminal_disk_and_network_stay_at_the_edge() -> None:
    assert edge_faults(sources()) == []


def test_nothing_is_too_large() -> None:
    assert sizes(sources()) == []


@pytest.mark.parametrize(
    ("module", "text", "check"),
    [
        ("layout.x", "from facegraphic.film.face import name", arrows_back),
        ("stock.x", "def f():\n    import facegraphic.job.load", arrows_back),
        ("film.x", "from facegraphic.page.server import run", arrows_back),
        ("layout.x", "print('here')", edge_faults),
        ("film.x", "data = open('a').read()", edge_faults),
        ("scene.x", "from pathlib import Path\nPath('a').write_text('b')", edge_faults),
        ("layout.x", "from facegraphic import pipeline", arrows_back),
        ("layout.x", "from ..film import face", arrows_back),
        ("scene.x", "import pathlib", edge_faults),
        ("pipeline", "def f(path): return path.read_text()", edge_faults),
        ("lettering.library", "def f(path): path.unlink()", edge_faults),
        ("drill.x", "import os", edge_faults),
        ("output.x", "import click", edge_faults),
        ("cli.x", "import urllib.request", edge_faults),
        ("page.x", "import urllib.request", edge_faults),
        ("output.x", "import socket", edge_faults),
        ("job.x", "input()", edge_faults),
        ("film.x", "pass\n" * 401, sizes),
        ("film.x", "def f(a, b, c, d, e, f, g): pass", sizes),
        ("film.x", "def f():\n" + "    pass\n" * 61, sizes),
    ],
)
def test_a_planted_fault_is_seen(module: str, text: str, check: object) -> None:
    assert callable(check)
    assert check({module: text}) != []
