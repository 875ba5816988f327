"""What tests need from Debian's packages: required where the tests must be complete, else skipped with the reason."""

import os
import shutil
from pathlib import Path

import pytest

FONTS = Path("/usr/share/fonts")


def debian_font(package: str, file: str) -> Path:
    """The path of a font file below Debian's font folder. Fails under CI=true when its package is missing."""
    path = FONTS / file
    if not path.is_file():
        reason = f"the Debian package {package} is not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return path


def debian_file(package: str, path: str) -> Path:
    """A file that a Debian package brings along. Fails under CI=true when it is missing.

    Packages may be installed without their documentation, or with it compressed: then the reason says so.
    """
    if not Path(path).is_file():
        reason = f"{path} of the Debian package {package} is not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return Path(path)


def debian_program(name: str, package: str) -> str:
    """The path of a program. Fails under CI=true when its package is missing."""
    path = shutil.which(name)
    if path is None:
        reason = f"{name} (Debian package {package}) is not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return path
