"""The rules that every job is held to, in the order they are tried: those of each face, then those of the job."""

from collections.abc import Callable, Iterator, Sequence

from facegraphic.checks import bleed, border, colour, fine, inside, measured, places, plate, reach, registration
from facegraphic.checks.colour import Draw, Sight
from facegraphic.checks.pairs import some_of_each
from facegraphic.drill.model import LeftOut
from facegraphic.errors import Finding, Severity
from facegraphic.job.model import Finish, Job
from facegraphic.layout.model import FaceLayout
from facegraphic.masks.cut import body_paint
from facegraphic.masks.regions import face_coats

FaceRule = Callable[[FaceLayout, Finish], Iterator[Finding]]
SightRule = Callable[[Sight], Iterator[Finding]]
JobRule = Callable[[Job], Iterator[Finding]]


def check(job: Job, layouts: Sequence[FaceLayout], draw: Draw) -> list[Finding]:
    """What all rules say of a job. `draw` renders a scene, for those that look at artwork."""
    found = [finding for rule in FACE_RULES for layout in layouts for finding in rule(layout, job.finish)]
    found += fine.small_to_read(layouts)
    paint = body_paint(job)
    sights = [Sight(layout, job.finish, paint, draw, face_coats(layout, job.coats)) for layout in layouts]
    found += [finding for rule in SIGHT_RULES for sight in sights for finding in rule(sight)]
    found += [finding for rule in JOB_RULES for finding in rule(job)]
    return list(some_of_each(found))


def text_too_small(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """Lettering below what the process holds is lost (smallest text: films table)."""
    least = finish.least_text
    for legend in layout.legends:
        if legend.block.cap < least - 1e-9:
            where = f"{finish.film.name}, sunk," if finish.sunk else finish.film.name
            message = f'"{legend.text}" is {legend.block.cap:g} mm high; {where} holds {least:g} mm and more'
            remedy = f"give it a height of {least:g} mm or more"
            yield Finding("text-too-small", "warning", message, remedy, layout.face.side, legend.box.centre)


def mirror_overridden(job: Job) -> Iterator[Finding]:
    """A process turns its print over or it doesn't; going against it is for people who know why (films table)."""
    film = job.finish.film
    if job.finish.mirrored != film.mirrored:
        now, usual = ("mirrored", "not mirrored") if job.finish.mirrored else ("not mirrored", "mirrored")
        message = f"the art is {now}, though {film.name} is usually {usual}"
        remedy = "leave mirror out unless your film is laid the other way"
        yield Finding("mirror-overridden", "warning", message, remedy)


def drill_told(layout: FaceLayout, finish: Finish) -> Iterator[Finding]:
    """What a drill file holds that is no round hole must not go unsaid; nor what was taken on trust."""
    for told in layout.face.told:
        place = ":".join(part for part in (told.file, str(told.line or "")) if part)
        severity: Severity = "warning" if isinstance(told, LeftOut) else "note"
        yield Finding("drill-file", severity, f"{place}: {told.what}", told.mend, layout.face.side)


FACE_RULES: tuple[FaceRule, ...] = (
    drill_told,
    places.hole_over_edge,
    places.hole_misfits_part,
    places.parts_collide,
    places.legend_collides,
    places.legend_over_edge,
    places.frame_collides,
    border.lost_in_border,
    text_too_small,
    fine.strokes_too_fine,
    fine.gaps_too_fine,
    plate.white_beside_strokes,
    places.art_off_face,
    bleed.art_short_of_bleed,
    reach.picture_coarse,
    reach.holes_close,
    registration.hole_past_cover,
    registration.registration_gap,
    registration.film_over_hole,
    registration.legend_in_opening,
    registration.legend_near_cover,
    *measured.RULES,
)
SIGHT_RULES: tuple[SightRule, ...] = (colour.contrasts, colour.inks_alike, colour.ground_unlike_paint)


def font_damaged(job: Job) -> Iterator[Finding]:
    """A font whose file is not as it was written may have letters wrong or missing, which nothing else would tell."""
    named = [job.finish.font, *(text.font for face in job.faces for text in face.texts if text.font)]
    for font in dict.fromkeys(named):
        if font.damage:
            remedy = "get the file anew; facegraphic fonts --specimen shows what it has"
            yield Finding("font-damaged", "warning", font.damage, remedy)


JOB_RULES: tuple[JobRule, ...] = (
    inside.parts_meet_inside,
    inside.part_meets_box,
    inside.part_meets_board,
    inside.board_meets_box,
    mirror_overridden,
    font_damaged,
)
