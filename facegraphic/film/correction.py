"""The one place where a scene is scaled against a printer that prints a little too small or too large.

What a printer shrinks to 99.2 % is drawn 100/99.2 times as large, so that it comes out true. A page of its own (art)
grows with what it shows. A sheet keeps its paper's size: it is laid out on as much of the paper as the printer reaches
(`printable`, in true mm), and `corrected` then carries that to the file.
"""

from dataclasses import replace

from fontTools.misc.transform import Transform

from facegraphic.job.model import Printer
from facegraphic.scene.scene import Group, Scene
from facegraphic.stock.tables import Paper
from facegraphic.units import format_number


def corrected(scene: Scene, printer: Printer | None, page: tuple[float, float] | None = None) -> Scene:
    """A scene in true mm as it must be sent to a printer, scaled about the page centre; `page` is a size to keep."""
    if printer is None:
        return scene
    across, up = printer.scale
    width, height = page or (scene.width * across, scene.height * up)
    drawn = Group(scene.items, "corrected", transform=Transform(across, 0, 0, up, 0, 0))
    return replace(scene, width=width, height=height, items=(drawn,))


def printable(paper: Paper, printer: Printer | None) -> Paper:
    """A paper as large as what a page of its size becomes on a printer, but no larger than the paper itself."""
    if printer is None:
        return paper
    across, up = printer.scale
    return replace(paper, size=(min(1, 1 / across) * paper.size[0], min(1, 1 / up) * paper.size[1]))


def correction_note(printer: Printer) -> str:
    """What is said of a correction on the paper itself."""
    across, up = (format_number(factor) for factor in printer.scale)
    return f"Corrected for printer {printer.name}: × {across} across, × {up} up."
