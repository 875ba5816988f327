"""Scenes as PDF pages of their true size, everything but pictures as vectors."""

import io

from facegraphic.output.engine import cairo
from facegraphic.output.paint import paint
from facegraphic.scene.scene import Scene
from facegraphic.units import POINTS_PER_MM

# Dates would make two runs differ; PDF wants one, so every file has the same.
NO_DATE = "2000-01-01T00:00:00Z"


def pdf_bytes(scene: Scene) -> bytes:
    """A scene as a PDF of one page; 1 mm is 72/25.4 pt (ISO 32000: a user unit is 1/72 inch)."""
    engine = cairo()
    out = io.BytesIO()
    # A page is made with its size: one that is resized is cut down to whole points by cairo.
    surface = engine.PDFSurface(out, scene.width * POINTS_PER_MM, scene.height * POINTS_PER_MM)
    surface.set_metadata(engine.PDF_METADATA_CREATOR, "facegraphic")
    surface.set_metadata(engine.PDF_METADATA_CREATE_DATE, NO_DATE)
    surface.set_metadata(engine.PDF_METADATA_MOD_DATE, NO_DATE)
    surface.set_fallback_resolution(1200, 1200)
    middle = (scene.width * POINTS_PER_MM / 2, scene.height * POINTS_PER_MM / 2)
    paint(engine.Context(surface), scene, POINTS_PER_MM, middle)
    surface.finish()
    return out.getvalue()
