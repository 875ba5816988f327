"""cairocffi loaded in haste is what it is when it is imported as ever."""

import os
import re
import subprocess
import sys
from pathlib import Path

import cairocffi
import pytest

# A process has the engine loaded once, so each case is one of its own, with its own place for byte code.
DRAW = """
import sys
{before}
from facegraphic.output.engine import cairo
c = cairo()
surface = c.ImageSurface(c.FORMAT_A8, 4, 4)
context = c.Context(surface)
context.arc(2, 2, 1.5, 0, 7)
context.fill()
print(bytes(surface.get_data()).hex(), c.cairo_version_string())
print("read" if "pycparser" in sys.modules or "cffi.cparser" in sys.modules else "kept")
"""
FUNCTIONS = """
from facegraphic.output.engine import cairo
c = cairo()
for name in sorted(name for name in dir(c.cairo) if name.startswith("cairo_")):
    try:
        print(name, c.ffi.typeof(getattr(c.cairo, name)))
    except Exception:  # of a newer library than this
        print(name, None)
for name in sorted(n for kind in c.ffi.list_types() for n in kind):
    print(name)
print(c.ffi.sizeof("cairo_matrix_t"), c.ffi.sizeof("cairo_path_data_t"), c.ffi.sizeof("cairo_glyph_t"))
"""
UNHURRIED = "import facegraphic.output.engine_start as start\nstart._load_quickly = lambda: None\n"


def ran(cache: Path, text: str, *options: str) -> str:
    words = [sys.executable, "-X", f"pycache_prefix={cache}", *options, "-c", text]
    settings = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run(words, env=settings, capture_output=True, text=True, timeout=120)
    assert (done.stderr, done.returncode) == ("", 0)
    return done.stdout


def drawn(cache: Path, *options: str, before: str = "") -> list[str]:
    return ran(cache, DRAW.format(before=before), *options).splitlines()


def declarations(cache: Path) -> list[Path]:
    return list(cache.rglob("cairo_*.pyc"))


def test_declarations_are_read_once_and_kept(tmp_path: Path) -> None:
    first = drawn(tmp_path)
    assert first[1:] == ["read"]
    (kept,) = declarations(tmp_path)
    assert drawn(tmp_path) == [first[0], "kept"]
    kept.unlink()
    assert drawn(tmp_path) == first


@pytest.mark.parametrize("damage", [b"", b"not byte code", None])
def test_whatever_is_wrong_with_what_is_kept_costs_only_time(tmp_path: Path, damage: bytes | None) -> None:
    first = drawn(tmp_path)
    (kept,) = declarations(tmp_path)
    kept.write_bytes(kept.read_bytes()[:900] if damage is None else damage)
    assert drawn(tmp_path) == first
    assert [drawn(tmp_path)[1] for _ in range(2)] == ["read", "kept"]


def test_where_python_is_to_write_nothing_nothing_is_written(tmp_path: Path) -> None:
    assert drawn(tmp_path, "-B")[1] == "read"
    assert declarations(tmp_path) == []


def test_where_nothing_can_be_written_declarations_are_read_but_once(tmp_path: Path) -> None:
    """A folder that takes no files; root may write anywhere, so the system's answer is planted."""
    planted = """
import os, cffi
os.access = lambda *asked: False
read = cffi.FFI.cdef
def cdef(self, *text):
    print("cdef")
    return read(self, *text)
cffi.FFI.cdef = cdef
"""
    plain = ran(tmp_path, planted + UNHURRIED + DRAW.format(before=""))
    quick = ran(tmp_path, planted + DRAW.format(before=""))
    assert quick == plain and quick.count("cdef") == 2  # cairo's, and those of what reads pictures
    assert declarations(tmp_path) == []


def test_another_version_has_declarations_of_its_own(tmp_path: Path) -> None:
    drawn(tmp_path)
    other = tmp_path / "constants.py"
    declared = Path(cairocffi.__file__).with_name(other.name)
    other.write_text(declared.read_text(encoding="utf-8") + "# of another version\n", encoding="utf-8")
    before = "from pathlib import Path\nimport facegraphic.output.engine_start as start\n"
    before += f"start._declared = lambda: Path({str(other)!r})\n"
    assert [drawn(tmp_path, before=before)[1] for _ in range(2)] == ["read", "kept"]
    assert len(declarations(tmp_path)) == 2


def test_every_function_and_type_is_as_cairocffi_declares_it(tmp_path: Path) -> None:
    plain = ran(tmp_path, UNHURRIED + FUNCTIONS)
    assert declarations(tmp_path) == []
    drawn(tmp_path)
    quick = ran(tmp_path, FUNCTIONS)
    assert plain.count("<ctype") > 300
    assert plainly_named(quick) == plainly_named(plain)


def plainly_named(types: str) -> str:
    """C's own names of types for those that stand for them, which is the same to any caller."""
    return re.sub(r"\b(?:struct |enum |union )?_?(cairo\w*?)(?:_t)?\b", r"\1", types)


def test_a_missing_library_is_told_the_same_way(tmp_path: Path) -> None:
    """Kept declarations that can open no library, and then cffi that cannot."""
    drawn(tmp_path)
    told = """
import cffi, ctypes.util
from facegraphic.errors import UserError
import facegraphic.output.engine_start as start
from facegraphic.output.engine import cairo
tried = []
class Closed:
    def dlopen(self, name, *more):
        tried.append(name)
        raise OSError("no library")
module = start._module
def without(loader):
    found = module(loader)
    found.ffi = Closed()
    return found
start._module = without
cffi.FFI.dlopen = Closed.dlopen
try:
    cairo()
except UserError as error:
    print(len(tried) > 4, error)
"""
    told = ran(tmp_path, told)
    assert told.startswith("True the cairo library is not on this system\n    install the cairo library")
