"""The lettering that can be named in a job: the project's own family, fonts that come as packages, and symbols."""

import re
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib import resources, util
from typing import Any

from facegraphic.lettering.font import Font

DEFAULT_FONT = "tagstrip-bold"
OWN_FAMILY = "tagstrip"

# Open fonts shipped as packages: package, folder in it, and weights that legends can use.
_PACKAGED = {"barlow-condensed": ("fontpkg_barlow_condensed", "BarlowCondensed")}
_WEIGHTS = ("Light", "Regular", "Medium", "SemiBold", "Bold", "ExtraBold", "Black")
_CAMEL = re.compile(r"(?<=[a-z])(?=[A-Z])")


def _own_folder() -> Any:
    """The project's fonts: within the installed package, or beside it in a checkout."""
    package = resources.files("facegraphic")
    inside = package / "fonts"
    return inside if inside.is_dir() else package / ".." / "fonts"


@cache
def named_fonts() -> Mapping[str, Any]:
    """Every font name a job may use, with the file it stands for."""
    found: dict[str, Any] = {}
    for file in sorted((_own_folder() / "built").iterdir(), key=lambda file: file.name):
        if file.name.endswith(".ttf") and "[" not in file.name:  # a variable font is for other programs
            found[_CAMEL.sub("-", file.name[:-4]).lower()] = file
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
    return Font(name, named_fonts()[name].read_bytes(), symbol_font)


def condensed_of(font: Font) -> Font | None:
    """The condensed sibling of a font of the library, if there is one."""
    family, _, weight = font.name.rpartition("-")
    name = f"{family}-condensed-{weight}"
    return load_named(name) if name in named_fonts() else None


def family_of(name: str) -> list[str]:
    """All fonts of the library that share a font's family, its own name among them."""
    families = (OWN_FAMILY, *_PACKAGED)
    family = next((family for family in families if name.startswith(f"{family}-")), name)
    members = [other for other in named_fonts() if other.startswith(family)]
    return sorted(members, key=lambda other: (other.rpartition("-")[0], load_named(other).stem))


@cache
def symbols() -> Mapping[str, str]:
    """The symbols that a text may ask for by name, each with its character of the private use area."""
    table = tomllib.loads((_own_folder() / "source" / "symbols.toml").read_text(encoding="utf-8"))
    return {name: chr(row["code"]) for name, row in table["glyphs"].items()}


@cache
def _spellings() -> dict[int, str]:
    return {ord(character): f"{{{name}}}" for name, character in symbols().items()}


def spelled(text: str) -> str:
    """A text with its symbols written by name, as a job file has them: their own characters show as blanks."""
    return text.translate(_spellings())


def symbol_font(stem: float) -> Font:
    """The weight of the own family that is nearest to a stem width (a share of the capital height)."""
    weights = [load_named(f"{OWN_FAMILY}-{weight}") for weight in ("light", "regular", "bold")]
    return min(weights, key=lambda font: abs(font.stem - stem))
