"""What browsers get: the package's modules, styles and pages, and modules joined to one text for a page in one file."""

import re
from functools import cache
from importlib.resources import files

# In an order in which each module only needs those before it.
BOX_VIEW = ("box-shaders.js", "box-meshes.js", "box-camera.js", "box-gl.js", "box-hands.js", "box-view.js")
_IMPORT = re.compile(r'^import \{[^}]*\} from "\./[\w-]+\.js";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=const|class|function|async)", re.MULTILINE)


@cache
def web_file(name: str) -> str:
    """A text of output/web by its name."""
    return (files("facegraphic.output") / "web" / name).read_text(encoding="utf-8")


@cache
def box_view() -> str:
    """All of box-view.js and what it imports as one module, which exports BoxView."""
    return _joined(BOX_VIEW) + "\nexport { BoxView };\n"


@cache
def preview_script() -> str:
    """The script of the preview's page with the box view, as one text that imports nothing."""
    return _joined((*BOX_VIEW, "preview.js"))


def _joined(names: tuple[str, ...]) -> str:
    """Modules as one text: their names share one scope, so imports and exports fall away."""
    return "\n".join(_EXPORT.sub("", _IMPORT.sub("", web_file(name))) for name in names)
