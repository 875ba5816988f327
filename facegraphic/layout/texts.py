"""Free text: where it was put, or where it has most room."""

from facegraphic.errors import Finding
from facegraphic.geometry.path import Box
from facegraphic.job.model import Face, Finish, FreeText
from facegraphic.layout.ground import Ground, box_region
from facegraphic.layout.model import Legend
from facegraphic.lettering.library import spelled
from facegraphic.lettering.text import Block, Style, set_block

GRID = 1.0
AMPLE = 5.0  # more room than this is not better


def free_text(text: FreeText, face: Face, finish: Finish, ground: Ground) -> tuple[Legend | None, list[Finding]]:
    """Set a free text; without room, or over something, there are findings."""
    if not text.text.strip():
        return None, []
    style = Style(text.font or finish.font, text.cap, text.tracking, align=text.align)
    block = set_block(text.text, style)
    if text.angle:
        block = block.turned(text.angle)
    if text.at is not None:
        legend = Legend(block, "text", "at", text.ink, angle=text.angle).moved(*text.at)
        return legend, _misplaced(legend, face, ground)
    at = _roomiest(block, face, ground)
    if at is None:
        size = f"{block.ink.width:.1f} × {block.ink.height:.1f} mm"
        finding = Finding(
            code="legend-no-room",
            severity="error",
            side=face.side,
            message=f'the text "{spelled(text.text)}" finds no room of {size}',
            remedy=f"lower its height ({text.cap:g} mm), shorten it, or say where it may stand with at = [x, y]",
        )
        return None, [finding]
    return Legend(block, "text", "auto", text.ink, angle=text.angle).moved(*at), []


def _roomiest(block: Block, face: Face, ground: Ground) -> tuple[float, float] | None:
    """The place on a millimetre grid with most room round the text, rather on the axis and low on the face."""
    width, height = face.outline.size
    best: tuple[float, tuple[float, float]] | None = None
    for row in range(int(height / GRID) + 1):
        for column in range(int(width / 2 / GRID) * 2 + 1):
            x = ((column + 1) // 2) * GRID * (1 if column % 2 else -1)
            y = row * GRID - height / 2
            ink = block.ink
            area = box_region(Box(ink.x0 + x, ink.y0 + y, ink.x1 + x, ink.y1 + y))
            if not ground.fits(area):
                continue
            score = min(ground.clearance(area), AMPLE) - 0.2 * abs(x) - 0.001 * row
            if best is None or score > best[0] + 1e-9:
                best = (score, (x, y))
    return best[1] if best else None


def _misplaced(legend: Legend, face: Face, ground: Ground) -> list[Finding]:
    area = box_region(legend.box)
    blockers = ground.blockers(area)
    if not blockers:
        return []
    touching = ground.clearance(area) <= 0
    verb = "meets" if touching or not ground.inside.contains(area) else "is close to"
    return [
        Finding(
            code="legend-misplaced",
            severity="error" if touching else "warning",
            side=face.side,
            at=legend.box.centre,
            message=f"the text {legend.name} {verb} {', '.join(blockers)}",
            remedy='move it with at = [x, y], make it smaller, or let at = "auto" find room',
        )
    ]
