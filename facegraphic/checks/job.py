"""The rules that every job is held to, in the order they are tried."""

from collections.abc import Callable, Iterator, Sequence

import shapely

from facegraphic.checks.places import art_off_face, frame_collides, hole_misfits_part, legend_over_edge
from facegraphic.errors import Finding
from facegraphic.geometry.regions import disc_region, region
from facegraphic.job.model import Job
from facegraphic.layout.cover import cover_region
from facegraphic.layout.model import FaceLayout

Rule = Callable[[Job, Sequence[FaceLayout]], Iterator[Finding]]


def check(job: Job, layouts: Sequence[FaceLayout]) -> list[Finding]:
    """What all rules say of a job."""
    return [finding for rule in RULES for finding in rule(job, layouts)]


def hole_over_edge(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """A hole must lie wholly on the flat of its face: beyond it the metal is round (plain geometry)."""
    for layout in layouts:
        face = region(layout.face.outline.path)
        for placed in layout.holes:
            if not face.contains(disc_region(*placed.at, placed.hole.d)):
                message = f"hole {placed.hole.id} reaches into the rounded edge of the {layout.face.side} face"
                remedy = "move it inwards, or check its position and diameter"
                yield Finding("hole-over-edge", "warning", message, remedy, layout.face.side, placed.at)


def parts_collide(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """What parts and knobs cover on top of the panel must not overlap (plain geometry)."""
    for layout in layouts:
        face = layout.face
        covers = [(hole, cover_region(hole, face.control(hole.id))) for hole in face.holes]
        for i, (a, area) in enumerate(covers):
            for b, other in covers[:i]:
                overlap = area.intersection(other)
                if overlap.area > 1e-6:
                    x, y = overlap.centroid.x, overlap.centroid.y
                    message = f"what sits in holes {b.id} and {a.id} overlaps"
                    remedy = "use smaller knobs, or move the holes apart"
                    yield Finding("parts-collide", "warning", message, remedy, face.side, (round(x, 3), round(y, 3)))


def legend_collides(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """No lettering may touch a cover, a hole, or other lettering: measured on the true outlines."""
    for layout in layouts:
        face = layout.face
        outlines = [region(legend.path) for legend in layout.legends]
        covers = [(f"hole {hole.id}", cover_region(hole, face.control(hole.id))) for hole in face.holes]
        for number, (legend, outline) in enumerate(zip(layout.legends, outlines, strict=True)):
            meets = [owner for owner, cover in covers if shapely.intersects(cover, outline)]
            meets += [
                f'"{other.text}"'
                for other, area in zip(layout.legends[:number], outlines[:number], strict=True)
                if shapely.intersects(area, outline)
            ]
            if meets:
                message = f'the {legend.role} "{legend.text}" meets {", ".join(meets)}'
                remedy = "move or shorten it, or undo its nudge"
                x, y = legend.box.centre
                yield Finding("legend-collides", "error", message, remedy, face.side, (round(x, 3), round(y, 3)))


def text_too_small(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """Lettering below what the process holds is lost (smallest text: films table)."""
    film = job.finish.film
    for layout in layouts:
        for legend in layout.legends:
            if legend.block.cap < film.text - 1e-9:
                message = (
                    f'"{legend.text}" is {legend.block.cap:g} mm high; {film.name} holds {film.text:g} mm and more'
                )
                remedy = f"give it a height of {film.text:g} mm or more"
                at = tuple(round(c, 3) for c in legend.box.centre)
                yield Finding("text-too-small", "warning", message, remedy, layout.face.side, (at[0], at[1]))


def mirror_overridden(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """A process turns its print over or it doesn't; going against it is for people who know why (films table)."""
    film = job.finish.film
    if job.finish.mirrored != film.mirrored:
        now, usual = ("mirrored", "not mirrored") if job.finish.mirrored else ("not mirrored", "mirrored")
        message = f"the art is {now}, though {film.name} is usually {usual}"
        yield Finding(
            "mirror-overridden", "warning", message, "leave mirror out unless your film is laid the other way"
        )


def not_built(job: Job, layouts: Sequence[FaceLayout]) -> Iterator[Finding]:
    """Say plainly what a job asks for that this version does not make."""
    for key in job.unbuilt:
        message = f"{key} is read, but this version makes nothing of it"
        yield Finding("not-built", "note", message, "finish this by hand, or wait for a later version")


RULES: tuple[Rule, ...] = (
    hole_over_edge,
    hole_misfits_part,
    parts_collide,
    legend_collides,
    legend_over_edge,
    frame_collides,
    text_too_small,
    art_off_face,
    mirror_overridden,
    not_built,
)
