"""A list of parts in, a job file's text out: the first plan that the whole way of the house has nothing against."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from facegraphic.errors import Finding
from facegraphic.job.load import read_job
from facegraphic.job.model import Job
from facegraphic.job.starter import title_of
from facegraphic.layout.cover import cover_region
from facegraphic.layout.face import lay_out
from facegraphic.layout.ground import box_region
from facegraphic.layout.model import FaceLayout
from facegraphic.pipeline.preparing import Placer, prepare_job
from facegraphic.planning.choose import choose
from facegraphic.planning.model import Plan, Wish
from facegraphic.planning.words import asked_for, job_text
from facegraphic.stock.tables import kinds

TITLES = (5.0, 4.0, 3.2, 0.0)  # heights of the title to try, in mm; 0: none
NO_TITLE = "the top has no room for the title"


@dataclass(frozen=True)
class Planned:
    """The text of a job file, the plan that it is made of, and whether the top face had room for the title."""

    text: str
    plan: Plan
    titled: bool


def plan_job(path: Path, wish: Wish, tell: Callable[[str], None] = lambda name: None) -> Planned:
    """The job file that is to stand at `path`; nothing is read or written there. `tell` gets each box that is tried.

    UserError when no box holds what is asked for.
    """
    heights: list[float] = []
    asked = asked_for(dict(wish.counts), {name: kind.title for name, kind in kinds().items()})
    place = lru_cache(maxsize=64)(lay_out)  # plans of a box differ in a face or two, and a title changes one

    def trial(plan: Plan) -> str:
        said = [""]
        for height in TITLES if plan.on("top") else TITLES[-1:]:
            text = job_text(plan, asked, title_of(path), wish.process, height)
            said = _against(read_job(text, path), place)
            if not said:
                heights.append(height)
                return ""
            if said[0] != NO_TITLE:
                return said[0]
        return said[0]

    plan = choose(wish, trial, tell)
    # The reasons against smaller boxes are known only now.
    return Planned(job_text(plan, asked, title_of(path), wish.process, heights[-1]), plan, heights[-1] > 0)


def _against(job: Job, place: Placer) -> list[str]:
    """What speaks against a plan: more than a note from the checks, or a label that reads as another part's.

    Faces go first, one by one, those with few labels before others, and the first fault ends it.
    """
    for face in sorted(job.faces, key=lambda face: len(face.controls)):
        layout = place(face, job.finish, None)
        found = [*worse(layout.findings), *misread(layout)]
        if len(found) == 1 and face.texts and not any(legend.role == "text" for legend in layout.legends):
            return [NO_TITLE]  # which has another remedy than a label without room
        if found:
            return found
    return worse(prepare_job(job, place=place).findings)


def worse(findings: Iterable[Finding]) -> list[str]:
    """What those say that are more than a note."""
    return [finding.message for finding in findings if finding.severity != "note"]


def misread(layout: FaceLayout) -> Iterator[str]:
    """Labels that stand nearer to what covers another hole than to what covers their own, a lever's reach included."""
    face = layout.face
    covers = {hole.id: cover_region(hole, face.control(hole.id)) for hole in face.holes}
    for legend in layout.legends:
        if legend.role == "label":
            area = box_region(legend.box)
            near = min(covers, key=lambda id: area.distance(covers[id]))
            if near != legend.hole:
                yield f"{legend.name} would stand nearer to {near}"
