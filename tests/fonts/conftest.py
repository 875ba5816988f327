"""Fixtures of the lettering tests: the built files, and how Debian's own tools are asked for."""

from __future__ import annotations

import os
import shutil
import sys
from pathlib import Path

import pytest
from font_measure import BUILT, ROOT

sys.path.insert(0, str(ROOT))

SYSTEM_FONTS = {
    "osifont": Path("/usr/share/fonts/truetype/osifont/osifont.ttf"),
    "dejavu": Path("/usr/share/fonts/truetype/dejavu/DejaVuSans.ttf"),
    "allerta_stencil": Path("/usr/share/fonts/opentype/allerta/allerta_stencil.otf"),
    "allerta_medium": Path("/usr/share/fonts/opentype/allerta/allerta_medium.otf"),
}


def missing(what: str) -> None:
    """Skip for want of a Debian package, but fail where the tests must be complete."""
    reason = f"{what} is not installed"
    if os.environ.get("CI") == "true":
        pytest.fail(reason)
    pytest.skip(reason)


@pytest.fixture
def system_font(request: pytest.FixtureRequest) -> Path:
    """Return the path of a Debian font named by indirect parametrisation."""
    path = SYSTEM_FONTS[request.param]
    if not path.is_file():
        missing(f"Debian font {path.name}")
    return path


@pytest.fixture(scope="session")
def tesseract() -> str:
    """Return the tesseract program."""
    program = shutil.which("tesseract")
    if program is None:
        missing("tesseract")
    return str(program)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Run a test that asks for ``face_path`` once per file of one weight, ``built_path`` for the variable one too."""
    if "face_path" in metafunc.fixturenames:
        paths = sorted(BUILT.glob("*-*.ttf"))
        assert paths, "no built fonts: run python -m fonts.build"
        metafunc.parametrize("face_path", paths, ids=[p.stem for p in paths])
    if "built_path" in metafunc.fixturenames:
        every = sorted(BUILT.glob("*.ttf"))
        assert any("[" in path.name for path in every), "no variable font: run python -m fonts.build"
        metafunc.parametrize("built_path", every, ids=[p.stem for p in every])
