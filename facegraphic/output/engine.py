"""The drawing engine, found when it is first needed.

cairocffi and CairoSVG load the system's cairo library while they are imported; where it is missing that fails, and
the user is told how to get it.
"""

import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, wraps
from types import ModuleType
from typing import Any, NoReturn, ParamSpec, TypeVar

from facegraphic.errors import Problem, UserError
from facegraphic.output.engine_start import load

P = ParamSpec("P")
T = TypeVar("T")
FETCHING = "urllib.request"  # the module that CairoSVG would fetch with
_turn = threading.RLock()
HOW_TO_GET_CAIRO = (
    "install the cairo library: Debian or Ubuntu: apt install libcairo2; Fedora: dnf install cairo; "
    "macOS: brew install cairo; Windows: install a GTK runtime and have its bin folder on PATH"
)


@cache
def cairo() -> Any:
    """The cairocffi module. UserError if the cairo library is not on this system."""
    try:
        return load()
    except OSError:
        raise UserError(Problem("the cairo library is not on this system", HOW_TO_GET_CAIRO)) from None


def version() -> str:
    """Which cairo draws, in words; it is a library of the system's, and changes with that."""
    try:
        return f"cairo {cairo().cairo_version_string()}"
    except UserError:
        return "no cairo library found"


def in_turn(draw: Callable[P, T]) -> Callable[P, T]:
    """A function that draws, for one thread at a time. What it leaves for the garbage goes before the next begins.

    Artwork is recorded once and shared by all that shows it, and cairo notes things in a recording while it is replayed
    or let go of: two threads at it draw each other's parts.
    """

    @wraps(draw)
    def drawn(*args: P.args, **kwargs: P.kwargs) -> T:
        with _turn:
            return draw(*args, **kwargs)

    return drawn


@cache
def cairosvg() -> Any:
    """The CairoSVG package with its parser and surfaces."""
    cairo()
    with _without_fetching():
        import cairosvg.helpers
        import cairosvg.parser
        import cairosvg.surface

    return cairosvg


@contextmanager
def _without_fetching() -> Iterator[None]:
    """Let a module be imported that can fetch what lies at a URL, with nothing to do it with.

    No drawing is to have anything fetched; and loading what speaks to networks takes half as long as all else of it. A
    thread that loads that module meanwhile gets the stand-in too: nothing here does.
    """
    if FETCHING in sys.modules:
        yield
        return
    bare = ModuleType(FETCHING)
    bare.__dict__.update(Request=_refuse, urlopen=_refuse)
    sys.modules[FETCHING] = bare
    try:
        yield
    finally:
        del sys.modules[FETCHING]


def _refuse(*args: object, **named: object) -> NoReturn:
    raise OSError("nothing is fetched for a drawing")
