"""Scenes as PDF pages of their true size, everything but pictures as vectors."""

import io
from collections.abc import Sequence

from facegraphic.film.plate import layers, only
from facegraphic.output.engine import cairo, in_turn
from facegraphic.output.paint import paint
from facegraphic.scene.scene import Fill, Group, Scene, walk
from facegraphic.units import POINTS_PER_MM

# Dates would make two runs differ; PDF wants one, so every file has the same.
NO_DATE = "2000-01-01T00:00:00Z"


def pdf_bytes(scene: Scene, *more: Scene) -> bytes:
    """Scenes as the pages of a PDF; 1 mm is 72/25.4 pt (ISO 32000: a unit is 1/72 inch). One page may have layers.

    Raises ValueError for pages of different sizes: cairo cuts a page that is resized down to whole points.
    """
    if any((other.width, other.height) != (scene.width, scene.height) for other in more):
        raise ValueError("all pages of a file have one size")
    named = layers(scene)
    if more or not named:
        return _pages(scene, [scene, *more])
    return _in_layers(_pages(scene, [only(scene, name) for name in [*named, ""]]), named)


def _in_layers(pdf: bytes, named: list[str]) -> bytes:
    """One page of several, each but the last a layer by name (optional content: ISO 32000-1, 8.11)."""
    import pikepdf  # for layers only, and slow to load

    with pikepdf.open(io.BytesIO(pdf)) as document:
        drawn_pages = list(document.pages)
        forms, groups, content = pikepdf.Dictionary(), pikepdf.Dictionary(), []
        for number, drawn in enumerate(drawn_pages):
            forms[f"/L{number}"] = document.make_indirect(drawn.as_form_xobject())
            content.append(f"q /L{number} Do Q")
        for number, name in enumerate(named):
            group = pikepdf.Dictionary(Type=pikepdf.Name.OCG, Name=pikepdf.String(name))
            groups[f"/O{number}"] = document.make_indirect(group)
            content[number] = f"/OC /O{number} BDC {content[number]} EMC"
        # A form is read from its page only when the file is written, so what shows them has to be another page.
        page = document.add_blank_page()
        page.mediabox = drawn_pages[0].mediabox
        page.obj.Resources = pikepdf.Dictionary(XObject=forms, Properties=groups)
        page.obj.Contents = document.make_stream("\n".join(content).encode("ascii"))
        del document.pages[:-1]
        listed = pikepdf.Array([groups[f"/O{number}"] for number in range(len(named))])
        state = pikepdf.Dictionary(
            Name=pikepdf.String("as printed"), Order=listed, ON=listed, BaseState=pikepdf.Name.ON
        )
        document.Root.OCProperties = pikepdf.Dictionary(OCGs=listed, D=state)
        out = io.BytesIO()
        document.save(out, deterministic_id=True, min_version="1.5")
    return out.getvalue()


def _pages(size: Scene, scenes: Sequence[Scene]) -> bytes:
    """Scenes as the pages of one PDF, all of a size; those of outlines alone share nothing, and wait for nobody."""
    plain = all(isinstance(item, Fill | Group) for scene in scenes for item, _ in walk(scene.items))
    return (_written if plain else in_turn(_written))(size, scenes)


def _written(size: Scene, scenes: Sequence[Scene]) -> bytes:
    engine = cairo()
    out = io.BytesIO()
    # A page is made with its size: one that is resized is cut down to whole points by cairo.
    surface = engine.PDFSurface(out, size.width * POINTS_PER_MM, size.height * POINTS_PER_MM)
    surface.set_metadata(engine.PDF_METADATA_CREATOR, "facegraphic")
    surface.set_metadata(engine.PDF_METADATA_CREATE_DATE, NO_DATE)
    surface.set_metadata(engine.PDF_METADATA_MOD_DATE, NO_DATE)
    surface.set_fallback_resolution(1200, 1200)
    middle = (size.width * POINTS_PER_MM / 2, size.height * POINTS_PER_MM / 2)
    for scene in scenes:
        paint(engine.Context(surface), scene, POINTS_PER_MM, middle)
        surface.show_page()
    surface.finish()
    return out.getvalue()
