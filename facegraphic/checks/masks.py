"""Rules for coats of paint and their masks."""

import math
from collections.abc import Iterator, Sequence

import shapely
from shapely.geometry.base import BaseGeometry

from facegraphic.checks.fine import fine_gaps, fine_strokes, finest
from facegraphic.checks.told import several
from facegraphic.errors import Finding
from facegraphic.geometry.regions import region
from facegraphic.job.model import Coat, Job, Painted
from facegraphic.layout.model import FaceLayout, Legend
from facegraphic.masks.cut import CutMask
from facegraphic.masks.regions import FaceCoat, asked_region, face_coats
from facegraphic.masks.slivers import Sliver

SPECK = 1e-6  # mm²
FRAIL = 0.1  # of lettering: in corners there is always a little that is thin
NEAR = 0.5  # mm round lettering: what is cut there belongs to it
FINEST = 32  # of what a mask holds: lettering is looked at no more finely
DUST = 0.05  # mm²: less of a shape nobody misses


def check_masks(job: Job, layouts: Sequence[FaceLayout], masks: Sequence[CutMask]) -> list[Finding]:
    """What all rules say of the coats of a job; nothing for a job without any."""
    coats = {layout.face.side: face_coats(layout, job.coats) for layout in layouts}
    every = [one for found in coats.values() for one in found]
    told = [finding for number in range(1, len(job.coats) + 1) for finding in _coat(job, layouts, every, number)]
    faces = {layout.face.side: layout for layout in layouts}
    for mask in masks:
        told += [*lost(mask), *lettering(mask, faces[mask.one.side]), *slivers(mask), *islands(mask)]
    return told


def _coat(job: Job, layouts: Sequence[FaceLayout], every: Sequence[FaceCoat], number: int) -> Iterator[Finding]:
    coat = job.coats[number - 1]
    name = f"coat {number}"
    yield from repaired(coat, name)
    sprayed = [one for one in every if one.number == number]
    asked = [asked_region(coat, layout) for layout in layouts if layout.face.side in coat.sides]
    if not sprayed and all(area.area <= SPECK for area in asked):
        remedy = f"{_source(coat)}; or take the coat out"
        yield Finding("coat-empty", "error", f"{name} sprays nothing: its region is empty", remedy)
    elif not sprayed:
        x0, y0, x1, y1 = shapely.union_all(asked).bounds
        message = f"{name} lies outside its faces, from {x0:.1f}, {y0:.1f} to {x1:.1f}, {y1:.1f} mm from their middles"
        yield Finding("coat-off-face", "error", message, "positions count from the middle of the face; move it onto it")
    elif coat.kind == "paint" and all(one.shows.area <= SPECK for one in sprayed):
        message = f"nothing of {name} shows in the end: later coats go over all of it"
        yield Finding("coat-hidden", "warning", message, 'take it out, change the order, or make it kind = "primer"')
    if sprayed and "legends" in (coat.where, coat.keep):
        yield Finding(
            "legends-twice",
            "warning",
            f"the legends are the shape of {name} and are printed too: one would lie on the other, never quite true",
            "make them one way: --only masks,guide,preview,steps leaves the print out; or give the coat another shape",
        )


def repaired(coat: Coat, name: str) -> Iterator[Finding]:
    """What was mended in a drawing must not go unsaid."""
    for drawn in (coat.where, coat.keep):
        for note in drawn.notes if isinstance(drawn, Painted) else ():
            message = f"{drawn.name if isinstance(drawn, Painted) else ''} of {name}: {note}"
            yield Finding(
                "coat-drawing", "note", message, "look at the mask; mend the drawing if other shapes were meant"
            )


def slivers(mask: CutMask) -> Iterator[Finding]:
    """Parts thinner than can be cut: the small were merged, the others stay and are told, one finding for each side."""
    stuff, number = mask.stuff, mask.one.number
    for side, called in (("mask", "of the mask"), ("opening", "of its openings")):
        thin = [sliver for sliver in mask.slivers if sliver.side == side and not sliver.merged]
        if thin:
            worst = min(thin, key=lambda sliver: sliver.thickness)
            at = worst.shape.representative_point()
            count = f"{len(thin)} parts {called} are" if len(thin) > 1 else f"a part {called} is"
            message = f"mask of coat {number}: {count} thinner than {stuff.least:g} mm, the least that {stuff.title}"
            message += f" holds; the thinnest has {worst.thickness:.2f} mm"
            remedy = "make shapes wider there or move them apart; heavier or larger lettering, or print it instead"
            yield Finding("mask-sliver", "warning", message, remedy, mask.one.side, (at.x, at.y))
    merged = [sliver for sliver in mask.slivers if sliver.merged and _missed(sliver, mask)]
    if merged:
        at = merged[0].shape.representative_point()
        message = (
            f"mask of coat {number}: {len(merged)} speck{'s' * (len(merged) > 1)} too small to be cut went to what "
        )
        message += f"lies round {'them' if len(merged) > 1 else 'it'}"
        remedy = f"look at the mask near {at.x:.1f}, {at.y:.1f} mm from the face's middle"
        yield Finding("mask-speck", "note", message, remedy, mask.one.side, (at.x, at.y))


def lettering(mask: CutMask, layout: FaceLayout) -> Iterator[Finding]:
    """Lettering that a mask cannot hold: too thin in many places, or cut as something else by bridges."""
    coat, stuff = mask.one.coat, mask.stuff
    if "legends" not in (coat.where, coat.keep):
        return
    cut = mask.opening if coat.where == "legends" else mask.material
    thin = shapely.union_all([sliver.shape for sliver in mask.slivers if not sliver.merged])
    letters = [(legend, region(legend.path)) for legend in layout.legends if legend.path]
    spoilt = [legend for legend, shape in letters if _frail(shape, thin) or _spoilt(shape, cut)]
    if spoilt:
        high = math.ceil(max(_least_cap(legend, stuff.least) for legend in spoilt))
        message = f"mask of coat {mask.one.number}: {several([legend.name for legend in spoilt])} cannot be cut as set:"
        message += f" {stuff.title} holds {stuff.least:g} mm and more, so strokes tear, close up or run together"
        finer = '; mask = "adhesive" holds finer lettering' if coat.mask != "adhesive" else ""
        remedy = f"set it about {high} mm high or more, or leave it to the print{finer}"
        yield Finding("mask-lettering", "warning", message, remedy, mask.one.side, spoilt[0].box.centre)


def _frail(letters: BaseGeometry, thin: BaseGeometry) -> bool:
    """Whether much of lettering, or of the gaps in it, is thinner than the mask holds."""
    return bool(thin.intersection(letters.envelope.buffer(NEAR)).area > FRAIL * letters.area)


def _spoilt(letters: BaseGeometry, cut: BaseGeometry) -> bool:
    """Whether a letter or dot is lost for the most part, a counter filled for the most part, or two run together."""
    parts = list(shapely.get_parts(letters))
    near = letters.envelope.buffer(NEAR)
    pieces = shapely.get_parts(cut.intersection(near))
    if any(part.intersection(cut).area < part.area / 2 for part in parts):
        return True
    counters = [shapely.Polygon(ring) for part in parts for ring in part.interiors]
    if any(counter.intersection(cut).area > counter.area / 2 for counter in counters):
        return True
    return any(sum(part.intersection(piece).area > part.area / 2 for part in parts) > 1 for piece in pieces)


def _least_cap(legend: Legend, least: float) -> float:
    """How high the capitals of lettering must be for its finest stroke and gap to have a width, mm."""
    letters = region(legend.path)
    held = min(finest(letters, least, fine_strokes), finest(letters, least, fine_gaps))
    return legend.block.cap * least / max(held, least / FINEST)


def _missed(sliver: Sliver, mask: CutMask) -> bool:
    """Whether a merged speck was part of what was asked for: where a trap ends there are always specks of it."""
    part = sliver.shape.intersection(mask.one.region) if sliver.side == "opening" else sliver.shape
    return bool(part.area > DUST)


def lost(mask: CutMask) -> Iterator[Finding]:
    """Shapes of which the mask leaves less than half open: all of a coat is an error, for nothing would be sprayed."""
    number, stuff = mask.one.number, mask.stuff
    shapes = [part for part in shapely.get_parts(mask.one.region) if part.area > DUST]
    gone = [part for part in shapes if part.intersection(mask.opening).area < part.area / 2]
    if mask.opening.area <= DUST:
        message = f"mask of coat {number} has no opening: all that it sprays here is too small to be cut"
        remedy = f"make it larger: {stuff.title} holds nothing under {stuff.least:g} mm; or take the coat out here"
        at = mask.one.region.representative_point()
        yield Finding("mask-without-opening", "error", message, remedy, mask.one.side, (at.x, at.y))
    elif gone:
        at = gone[0].representative_point()
        many = f"{len(gone)} shapes lose" if len(gone) > 1 else "a shape loses"
        cause = "bridges" if mask.bridges else "what is too small to be cut"
        message = f"mask of coat {number}: {many} more than half to {cause}"
        remedy = "make shapes larger there, or take another mask"
        yield Finding("mask-shape-lost", "warning", message, remedy, mask.one.side, (at.x, at.y))


def islands(mask: CutMask) -> Iterator[Finding]:
    """Islands of a stencil fall out unless bridges hold them, and bridges leave gaps in the paint."""
    if mask.bridges:
        wide = max(mask.one.coat.bridge, mask.stuff.least)
        message = f"mask of coat {mask.one.number}: islands of the stencil are held by {len(mask.bridges)} bridge"
        message += f"{'s' * (len(mask.bridges) > 1)} {wide:g} mm wide, whose places stay without paint"
        remedy = 'touch them up with a brush; or use mask = "adhesive", or a stencil font'
        yield Finding("stencil-bridged", "note", message, remedy, mask.one.side, mask.bridges[0].start)


def _source(coat: Coat) -> str:
    """Where to look for why a region is empty."""
    regions = [region for region in (coat.where, coat.keep) if region is not None]
    drawn = next((region.name for region in regions if isinstance(region, Painted)), None)
    if drawn:
        return f"{drawn} must have shapes with a fill or stroke that lie on its page"
    if "legends" in regions or "frames" in regions:
        return "the faces must have legends or frames for it"
    return "keep leaves nothing of it: check where, keep and shapes"
