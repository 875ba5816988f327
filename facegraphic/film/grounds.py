"""How a job's paint goes with what is printed: ink on it through clear film, and the ground that white film brings."""

from facegraphic.film.colour import LEAST, coded, contrast, luminance, seen, to_linear
from facegraphic.film.vision import difference, lab
from facegraphic.job.model import Face, Job

UNLIKE = 3.0  # CIEDE2000 from which two flat colours side by side are taken to look apart (a choice; 1 is just seen)
WHITE = "#ffffff"


def apart(one: str, other: str) -> float:
    """How far two flat colours look apart: CIEDE2000."""
    return difference(lab(to_linear(coded(one))), lab(to_linear(coded(other))))


def ratio_words(ratio: float) -> str:
    """A contrast ratio cut off, not rounded, so that it never reads as one that would do."""
    return f"{int(ratio * 10 + 1e-9) / 10:.1f} : 1"


def paint_words(job: Job) -> str:
    """The paint that a job needs, and what is true of it beside ink or ground; empty for processes that lay no film."""
    if job.finish.film.look == "clear":
        return _under_ink(job)
    return _beside_ground(job) if job.finish.film.look == "white" else ""


def _under_ink(job: Job) -> str:
    worst, ink = min((_contrast(job, face, ink), ink) for face in job.faces for ink in _inks(job, face) or (WHITE,))
    if not any(_inks(job, face) for face in job.faces):
        return f"paint: {job.paint}"
    if worst >= LEAST:
        return f"paint, light enough for the ink: {job.paint}"
    return (
        f"paint: {job.paint}, on which the ink {ink} would stand out by {ratio_words(worst)} only: take another paint "
        "or ink, or white film, and make the files anew"
    )


def _inks(job: Job, face: Face) -> tuple[str, ...]:
    """The inks that a face is lettered in."""
    usual = (job.finish.ink,) if face.controls or face.frames or face.lines else ()
    return tuple(dict.fromkeys((*usual, *(text.ink for text in face.texts))))


def _contrast(job: Job, face: Face, ink: str) -> float:
    """Contrast of an ink to the paint, or to a ground printed on it."""
    look = job.finish.film.look
    below, above = (luminance(seen(coded(tone), job.paint, look)) for tone in (face.ground or WHITE, ink))
    return float(contrast(below, above))


def _beside_ground(job: Job) -> str:
    grounds = tuple(dict.fromkeys(face.ground or WHITE for face in job.faces))
    unlike = [ground for ground in grounds if apart(ground, job.paint) >= UNLIKE]
    if not unlike:
        return f"paint, {job.paint}, which matches the printed ground at the edges"
    bare = all(face.ground is None for face in job.faces)
    what = "the film is white" if bare else f"the ground is printed in {' and '.join(unlike)}"
    return f"paint: {job.paint}; {what}, so the edges of the film and the rest of the box will not match"
