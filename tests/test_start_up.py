"""What the command loads before it is needed: nothing heavy for help, and nothing of what a job has not asked for."""

import os
import subprocess
import sys

import cairocffi
import click
import pytest
from helpers.runs import run_here

from facegraphic import __version__
from facegraphic.cli.haste import MADE_BETWEEN
from facegraphic.cli.main import COMMANDS, facegraphic

HEAVY = (
    "numpy", "shapely", "cairocffi", "cairosvg", "fontTools", "highspy", "PIL", "pikepdf", "ezdxf", "svgelements",
    "svgwrite", "uharfbuzz", "cv2", "tomlkit", "starlette",
)  # fmt: skip
CALL = """
import sys
from facegraphic.cli.main import run
try:
    run(sys.argv[1:])
except SystemExit:
    pass
{more}
print("loaded:", *sorted(name for name in sys.modules if "." not in name), file=sys.stderr)
"""


def heavy(*arguments: str, more: str = "") -> set[str]:
    """The heavy packages that are loaded at the end of a run, in a process of its own."""
    words = [sys.executable, "-c", CALL.format(more=more), *arguments]
    ran = subprocess.run(words, capture_output=True, text=True, check=True, timeout=120)
    return set(ran.stderr.split("loaded:")[1].split()) & set(HEAVY)


@pytest.mark.parametrize("arguments", [
    ["--help"], ["-h"], [], ["mke"], ["--nonsense"], ["make", "--help"], ["make"],
    ["make", "--only", "arts", "box.toml"], ["new", "--help"], ["stock", "--help"],
])  # fmt: skip
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    assert heavy(*arguments) == set()


def test_what_is_loaded_is_seen() -> None:
    assert heavy("--help", more="import shapely") >= {"shapely", "numpy"}


@pytest.mark.parametrize("name", COMMANDS)
def test_the_list_says_what_each_command_says_of_itself(name: str) -> None:
    command = facegraphic.get_command(None, name)
    assert command is not None
    assert command.get_short_help_str(limit=1000) == COMMANDS[name]


def test_the_list_is_as_click_writes_it_and_nothing_is_cut() -> None:
    with click.Context(facegraphic, info_name="facegraphic", **facegraphic.context_settings) as ctx:
        ours = facegraphic.get_help(ctx)
        formatter = ctx.make_formatter()
        click.Group.format_commands(facegraphic, ctx, formatter)
    assert formatter.getvalue().strip() in ours
    assert "..." not in formatter.getvalue()


@pytest.mark.parametrize(("module", "spared"), [
    ("facegraphic.output.png", {"shapely", "PIL", "highspy", "uharfbuzz", "cairocffi", "cairosvg", "pikepdf"}),
    ("facegraphic.pipeline.making", {"ezdxf", "svgelements", "pikepdf", "tomlkit", "cairocffi", "cairosvg", "cv2"}),
])  # fmt: skip
def test_what_a_module_does_without_is_not_loaded(module: str, spared: set[str]) -> None:
    assert heavy("--help", more=f"import {module}") & spared == set()
    assert heavy("--help", more=f"import {module}") >= {"numpy"}


def test_a_job_in_one_process_loads_nothing_for_others() -> None:
    """Of the drill readers, too, only that of the file there is; and the scan room has no part in a job."""
    call = [sys.executable, "-c", "import sys, facegraphic.cli.bench; print(*sys.modules)"]
    loaded = set(subprocess.run(call, capture_output=True, text=True, check=True, timeout=120).stdout.split())
    spared = {"multiprocessing.context", "facegraphic.drill.nc", "facegraphic.drill.dxf", "facegraphic.drill.scan"}
    assert {"facegraphic.drill.read", "facegraphic.pipeline.making"} <= loaded
    assert not spared & loaded


def test_what_draws_artwork_brings_nothing_that_could_fetch() -> None:
    """CairoSVG has what it would fetch with from the module that speaks to networks; others find that module whole."""
    look = """
import sys
from facegraphic.output.engine import cairosvg
before = "urllib.request" in sys.modules
url = cairosvg().url
print("loaded before, after:", before, "urllib.request" in sys.modules or "http.client" in sys.modules)
for place in ("data:,x", "https://example.org/sea.svg", "file:///etc/hostname"):
    try:
        print("fetched", url.fetch(place, "image/*"))
    except OSError as error:
        print(error)
import urllib.request
print(urllib.request.urlopen("data:,whole").read())
"""
    ran = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True, timeout=120)
    told = ran.stdout.splitlines()
    assert told == [
        "loaded before, after: False False", *["nothing is fetched for a drawing"] * 3, "b'whole'"
    ]  # fmt: skip


def test_the_program_makes_haste_and_the_library_leaves_processes_as_they_are() -> None:
    look = "import gc, os, sys; print(gc.get_threshold(), os.environ.get('OPENBLAS_NUM_THREADS'), file=sys.stderr)"
    environment = {name: value for name, value in os.environ.items() if name != "OPENBLAS_NUM_THREADS"}

    def told(code: str) -> str:
        call = [sys.executable, "-c", f"import atexit\natexit.register(lambda: exec({look!r}))\n{code}"]
        ran = subprocess.run(call, env=environment, capture_output=True, text=True, check=True, timeout=120)
        return ran.stderr.strip()

    assert told("import facegraphic.cli.bench, facegraphic.cli.main") == told("pass")
    hasty = told("from facegraphic.cli.main import run; run(['--version'])")
    assert hasty.startswith(f"({MADE_BETWEEN}, ") and hasty.endswith(" 1")


def test_the_version_names_the_engine_that_draws() -> None:
    assert run_here("--version").out == f"facegraphic {__version__} (cairo {cairocffi.cairo_version_string()})\n"


@pytest.mark.parametrize(("words", "position", "offered"), [
    ("facegraphic ma", 1, "make"), ("facegraphic make --wor", 2, "--workers"), ("facegraphic stock bi", 2, "bits"),
])  # fmt: skip
def test_a_shell_is_told_what_completes_a_word(words: str, position: int, offered: str) -> None:
    told = {"_FACEGRAPHIC_COMPLETE": "bash_complete", "COMP_WORDS": words, "COMP_CWORD": str(position)}
    call = [sys.executable, "-c", "from facegraphic.cli.main import run; run()"]
    ran = subprocess.run(call, env={**os.environ, **told}, capture_output=True, text=True, timeout=120)
    assert f"plain,{offered}\n" in ran.stdout
