"""The lettering that can be named in a job: fonts that come as packages, and the project's own."""

from collections.abc import Mapping
from functools import cache
from importlib import resources, util
from typing import Any

from facegraphic.lettering.font import Font

DEFAULT_FONT = "barlow-condensed-semibold"

# Open fonts shipped as packages: package, folder in it, and weights that legends can use.
_PACKAGED = {
    "barlow-condensed": ("fontpkg_barlow_condensed", "BarlowCondensed"),
}
_WEIGHTS = ("Light", "Regular", "Medium", "SemiBold", "Bold", "ExtraBold", "Black")


@cache
def named_fonts() -> Mapping[str, Any]:
    """Every font name a job may use, with the file it stands for."""
    found: dict[str, Any] = {}
    for family, (package, stem) in _PACKAGED.items():
        if util.find_spec(package) is None:
            continue
        folder = resources.files(package) / "files"
        for weight in _WEIGHTS:
            file = folder / f"{stem}-{weight}.ttf"
            if file.is_file():
                found[f"{family}-{weight.lower()}"] = file
    return found


@cache
def load_named(name: str) -> Font:
    """Open a font of the library. KeyError for a name that isn't there."""
    return Font(name, named_fonts()[name].read_bytes())


def condensed_of(font: Font) -> Font | None:
    """The condensed sibling of a font of the library, if there is one."""
    family, _, weight = font.name.rpartition("-")
    name = f"{family}-condensed-{weight}"
    return load_named(name) if name in named_fonts() else None
