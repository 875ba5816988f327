"""Faces of a process that knows ink and no ink only: where a screen's dots may stand, and the border of a resist."""

import math

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.film.artwork import placed_art
from facegraphic.film.marks import CUT_WIDE, bare_disc
from facegraphic.film.registration import openings
from facegraphic.geometry.path import Box
from facegraphic.geometry.regions import disc_region, path_of, region
from facegraphic.job.model import Finish
from facegraphic.layout.model import FaceLayout
from facegraphic.scene.scene import Fill, Grid, Screened, ScreenedArt
from facegraphic.units import MM_PER_INCH

MOST_PIXELS = 30_000_000
BLACK = "#000000"


def screened_arts(layout: FaceLayout, finish: Finish) -> Screened:
    """A face's artwork with all that its dots have to keep clear of taken out of the room that they have."""
    side, bled = layout.face.side, layout.face.outline.box.grown(finish.bleed)
    arts = tuple(
        ScreenedArt(placed_art(art, bled, f"{side}-art-{number}"), art.screen)
        for number, art in enumerate(layout.face.arts, 1)
    )
    grid = pixels_of(bled, finish.dpi)
    free = _free(layout, finish, grid.pixel)
    line = path_of(_edging(layout, finish, free, grid.pixel))
    return Screened(arts, path_of(free), grid, finish.least_line, finish.least_gap, finish.ink, f"{side}-art", line)


def pixels_of(bled: Box, dpi: int) -> Grid:
    """The pixels of a face's PNG; where they would be too many, squares of them, an odd number wide to stay in step."""
    width, height = (round(side * dpi / MM_PER_INCH) for side in (bled.width, bled.height))
    many = 1
    while width * height > MOST_PIXELS * many**2:
        many += 2

    def count(pixels: int) -> int:
        squares = math.ceil(pixels / many)
        return squares + (squares - pixels) % 2

    return Grid(max(1, count(width)), max(1, count(height)), MM_PER_INCH / dpi * many)


def _free(layout: FaceLayout, finish: Finish, pixel: float) -> BaseGeometry:
    """Where dots may stand: the bled face, but for what lies within a gap of lettering, holes, cut line and border."""
    outline, apart = layout.face.outline, finish.least_gap + pixel
    clear = max(finish.halo or finish.film.rim, apart)
    taken = [region(legend.path).buffer(clear, quad_segs=8) for legend in layout.legends if legend.path]
    taken += [region(mark.path, mark.rule).buffer(clear, quad_segs=8) for mark in layout.marks]
    # A lone dot in a counter or between two letters would read as a part of them.
    narrow = finish.least_line + finish.least_gap
    closed = shapely.union_all(taken).buffer(narrow, quad_segs=8).buffer(-narrow - apart, quad_segs=8)
    taken.append(closed.buffer(apart, quad_segs=8))  # but no bridges of bare ground finer than twice a gap
    for placed in layout.holes:
        if finish.holes == "mark":
            taken.append(disc_region(*placed.at, bare_disc(placed.hole, finish) + 2 * pixel))
    taken += [disc_region(*at, diameter + 2 * pixel) for at, diameter in openings(layout.face, finish)]
    if finish.cut == "line":
        taken.append(shapely.boundary(region(outline.path)).buffer(CUT_WIDE / 2 + apart))
    # In a sunk face dots are bare, and the border's inner edge is a bare line: dots may touch it.
    inwards = finish.border if finish.sunk else finish.border + apart
    whole = outline.grown(-inwards) if finish.border else outline.grown(finish.bleed)
    return region(whole.path).difference(shapely.union_all(taken))


def _edging(layout: FaceLayout, finish: Finish, free: BaseGeometry, pixel: float) -> BaseGeometry:
    """A bare line along the border of a sunk face, without which dark cells would run into the border.

    A raised face has one anyway, since its dots keep clear of the border.
    """
    if not (finish.sunk and finish.border):
        return shapely.Polygon()
    wide = finish.least_line + 2 * pixel
    inner = region(layout.face.outline.grown(-finish.border - wide).path)
    line = free.difference(inner)
    least = wide / 2 - pixel / 4
    return line.buffer(-least, join_style="mitre").buffer(least, join_style="mitre")


def border(layout: FaceLayout, finish: Finish) -> Fill:
    """The resist from inside the edge of a face out through the bleed: tape that covers the box's edge overlaps it."""
    outline = layout.face.outline
    band = outline.grown(finish.bleed).path + outline.grown(-finish.border).path
    return Fill(band, BLACK, "evenodd", f"{layout.face.side}-border")
