"""Legends at a lever's throws: the first up or to the left, a middle one beside the nut."""

from facegraphic.job.model import Control, Finish, Hole
from facegraphic.layout.cover import LEVER_MM, cover_diameter
from facegraphic.layout.model import Legend
from facegraphic.lettering.text import Style, set_block

THROW_SHARE = 0.85  # of the label's capital height


def throws(hole: Hole, control: Control, finish: Finish) -> list[Legend]:
    """Legends for each position of a toggle; empty for parts without throws or positions."""
    part = control.part
    if part is None or not part.throws or not control.positions:
        return []
    style = Style(finish.font, max(control.cap * THROW_SHARE, finish.least_text))
    upright = control.lever == "upright"
    tip = part.swing + LEVER_MM / 2 + finish.gap
    seat = cover_diameter(hole, control) / 2 + finish.gap
    last = len(control.positions) - 1
    legends = []
    for number, text in enumerate(control.positions):
        if not text:
            continue
        block = set_block(text, style)
        high, wide = block.body.height / 2, block.ink.width / 2
        if 0 < number < last:
            x, y = (seat + wide, 0.0) if upright else (0.0, seat + high)
        else:
            way = 1 if number == 0 else -1
            x, y = (0.0, way * (tip + high)) if upright else (-way * (tip + wide), 0.0)
        legend = Legend(block, "position", "throw", finish.ink, hole.id)
        legends.append(legend.moved(hole.x + x, hole.y + y))
    return legends
