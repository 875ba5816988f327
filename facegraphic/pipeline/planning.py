"""A list of parts in, a job file's text out: the first plan that the whole way of the house has nothing against."""

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from facegraphic.job.load import read_job
from facegraphic.job.starter import title_of
from facegraphic.layout.model import FaceLayout
from facegraphic.pipeline.preparing import Prepared, prepare_job
from facegraphic.planning.choose import choose
from facegraphic.planning.model import Plan, Wish
from facegraphic.planning.words import asked_for, job_text
from facegraphic.stock.tables import kinds

TITLES = (4.0, 3.2, 0.0)  # heights of the title to try, in mm; 0: none


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

    def trial(plan: Plan) -> str:
        said = ""
        for height in TITLES if plan.on("top") else TITLES[-1:]:
            text = job_text(plan, asked, title_of(path), wish.process, height)
            said = next(_against(prepare_job(read_job(text, path))), "")
            if not said:
                heights.append(height)
                return ""
        return said

    plan = choose(wish, trial, tell)
    # The reasons against smaller boxes are known only now.
    return Planned(job_text(plan, asked, title_of(path), wish.process, heights[-1]), plan, heights[-1] > 0)


def _against(prepared: Prepared) -> Iterator[str]:
    """What speaks against a plan: more than a note from the checks, or a label that reads as another part's."""
    yield from (finding.message for finding in prepared.findings if finding.severity != "note")
    for layout in prepared.layouts:
        yield from misread(layout)


def misread(layout: FaceLayout) -> Iterator[str]:
    """Labels whose middle is nearer to another hole than to their own."""
    for legend in layout.legends:
        if legend.role == "label":
            near = min(layout.face.holes, key=lambda hole: math.dist((hole.x, hole.y), legend.box.centre))
            if near.id != legend.hole:
                yield f"{legend.name} would stand nearer to {near.id}"
