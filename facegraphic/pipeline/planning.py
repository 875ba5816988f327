"""A list of parts in, a job file's text out: the first plan that the whole way of the house has nothing against."""

from pathlib import Path

from facegraphic.errors import Finding
from facegraphic.job.load import read_job
from facegraphic.job.starter import title_of
from facegraphic.pipeline.preparing import prepare_job
from facegraphic.planning.choose import choose
from facegraphic.planning.model import Plan, Wish
from facegraphic.planning.words import asked_for, job_text
from facegraphic.stock.tables import kinds

TITLES = (4.0, 3.2, 0.0)  # heights of the title to try, in mm; 0: none


def plan_job(path: Path, wish: Wish) -> tuple[str, Plan]:
    """The text of the job file that is to stand at `path`, and its plan; nothing is read or written there.

    UserError when no box holds what is asked for.
    """
    heights: list[float] = []
    asked = asked_for(dict(wish.counts), {name: kind.title for name, kind in kinds().items()})

    def trial(plan: Plan) -> str:
        said = ""
        for height in TITLES:
            text = job_text(plan, asked, title_of(path), wish.process, height)
            findings = [finding for finding in prepare_job(read_job(text, path)).findings if _bad(finding)]
            if not findings:
                heights.append(height)
                return ""
            said = findings[0].message
        return said

    plan = choose(wish, trial)
    # The reasons against smaller boxes are known only now.
    return job_text(plan, asked, title_of(path), wish.process, heights[-1]), plan


def _bad(finding: Finding) -> bool:
    return finding.severity != "note"
