"""Scenes as PDF pages of their true size, everything but pictures as vectors."""

import io

from facegraphic.output.engine import cairo
from facegraphic.output.paint import paint
from facegraphic.scene.scene import Scene
from facegraphic.units import POINTS_PER_MM

# Dates would make two runs differ; PDF wants one, so every file has the same.
NO_DATE = "2000-01-01T00:00:00Z"


def pdf_bytes(scene: Scene, *more: Scene) -> bytes:
    """Scenes as the pages of a PDF; 1 mm is 72/25.4 pt (ISO 32000: a user unit is 1/72 inch).

    Raises ValueError for pages of different sizes: cairo cuts a page that is resized down to whole points.
    """
    if any((other.width, other.height) != (scene.width, scene.height) for other in more):
        raise ValueError("all pages of a file have one size")
    engine = cairo()
    out = io.BytesIO()
    surface = engine.PDFSurface(out, scene.width * POINTS_PER_MM, scene.height * POINTS_PER_MM)
    surface.set_metadata(engine.PDF_METADATA_CREATOR, "facegraphic")
    surface.set_metadata(engine.PDF_METADATA_CREATE_DATE, NO_DATE)
    surface.set_metadata(engine.PDF_METADATA_MOD_DATE, NO_DATE)
    surface.set_fallback_resolution(1200, 1200)
    middle = (scene.width * POINTS_PER_MM / 2, scene.height * POINTS_PER_MM / 2)
    for page in (scene, *more):
        paint(engine.Context(surface), page, POINTS_PER_MM, middle)
        surface.show_page()
    surface.finish()
    return out.getvalue()
