"""``steps.md``: from these files to the finished box, for the job's own process, faces and holes.

What to do comes from the stock tables; here the job's own facts are put in, and times are added up.
"""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from facegraphic.film.correction import correction_note
from facegraphic.film.grounds import paint_words
from facegraphic.film.registration import fits
from facegraphic.film.sheet import Page
from facegraphic.film.sheet_marks import measured
from facegraphic.job.model import Face, Finish, Hole, Job, Sheet
from facegraphic.stock.tables import Step, courses, hazards, steps
from facegraphic.units import format_number

LABEL_RULE = "Follow the product's own label and local rules. Where they differ from this page, they are right."
_MARKUP = re.compile(r"([\\`*_\[\]<>#|~&])")
WORTH_KEEPING = 60.0  # mm of film at a sheet's lower end: enough for a small face
PLATES = ("colour", "white")
PAINTING = ("spray", "solvent", "blade")  # what painting through masks can do to one
HOUR, DAY = 60, 24 * 60


@dataclass(frozen=True)
class StepFacts:
    """The files to print: sheets by name (none if the faces are printed one by one), and one of each face.

    `sheet` is the film or paper that they are printed on, `shared` the other jobs whose faces they carry,
    `guide` the drill guide ("" if there is none), `coats` the section on coats of paint and their masks, and `stuff`
    what these need.
    """

    sheets: tuple[tuple[str, Page], ...]
    faces: tuple[str, ...]
    sheet: Sheet | None = None
    shared: tuple[str, ...] = ()
    guide: str = ""
    coats: tuple[str, ...] = ()
    stuff: tuple[str, ...] = ()

    @property
    def print(self) -> tuple[tuple[str, int], ...]:
        """What to print, and how often."""
        return tuple((name, page.prints) for name, page in self.sheets) or tuple((name, 1) for name in self.faces)


def steps_text(job: Job, files: StepFacts) -> str:
    """The whole page as Markdown, ending in a new line."""
    course = courses()[job.finish.film.name]
    order = [steps()[name] for name in course.order]
    told = _facts(job, files)
    title = " · ".join(filter(None, (_plain(job.title), job.finish.film.name)))
    work, wait = ([sum(getattr(step, kind)[end] for step in order) for end in (0, 1)] for kind in ("work", "wait"))
    lines = [f"# {title}", "", f"From these files to the finished box: {job.finish.film.title}.", ""]
    lines += _summary(job, files)
    lines += [f"- **Time:** {_span(work)} at the bench, {_span(wait)} of waiting.", ""]
    lines += ["## Before you begin", "", LABEL_RULE, ""]
    met = dict.fromkeys([*_met(order), *(PAINTING if files.coats else ())])
    lines += [f"- **{hazards()[name].title}.** {hazards()[name].text}" for name in met]
    needs = [need.format_map(told) for need in course.needs if not (files.coats and "{paint_words}" in need)]
    lines += ["", "## You need", "", *(f"- {need}" for need in (*needs, *files.stuff)), "", *files.coats]
    lines += ["## Steps", ""]
    for number, step in enumerate(order, 1):
        lines += _step(number, step, told)
    where = f"{course.source[0].upper()}{course.source[1:]}"
    lines.append(f"{where}; times are for a dry room of about 20 °C. {LABEL_RULE}")
    return "\n".join(lines) + "\n"


def _met(order: Iterable[Step]) -> list[str]:
    """The hazards of some steps, each once, as they come."""
    return list(dict.fromkeys(name for step in order for name in step.hazards))


def _step(number: int, step: Step, told: dict[str, str]) -> list[str]:
    times = [f"{_span(step.work)} of work"] if step.work[1] else []
    times += [f"then wait {_span(step.wait)}"] if step.wait[1] else []
    lines = [f"### {number}. {step.title}", "", step.text.format_map(told).strip(), ""]
    lines += [f"- **Check:** {step.check.format_map(told).strip()}", f"- **Time:** {', '.join(times)}."]
    if step.hazards:
        lines.append(f"- **Caution:** {', '.join(_low(hazards()[name].title) for name in step.hazards)}; see above.")
    return [*lines, ""]


def _summary(job: Job, files: StepFacts) -> list[str]:
    finish = job.finish
    lines = [f"- **Box:** {job.box.name}, {_sizes(job.box.size)} mm."]
    for face in job.faces:
        drills = f"; holes {_drills(face.holes)}" if face.holes else ""
        lines.append(f"- **Face {face.side}:** {_sizes(face.outline.size)} mm{drills}.")
    lines.append(f"- **Print:** {_names(files.print)}. {_way(finish)}")
    lines += _film(job, files)
    if job.printer:
        lines.append(f"- **Printer:** {_plain(correction_note(job.printer))} Print on no other printer.")
    return lines


def _film(job: Job, files: StepFacts) -> list[str]:
    """Which sheet goes onto a started one, whose other faces they carry, and what is left of the last one."""
    lines: list[str] = []
    for name, page in files.sheets:
        if page.started:
            what = (
                "goes onto the started sheet. Load that the way round in which the print leaves bare what is cut away"
            )
            lines.append(f"- **Started sheet:** `{name}` {what}; hold both to a window first.")
    if files.sheet and files.sheet.used and files.sheets and not any(page.started for _, page in files.sheets):
        lines.append("- **Started sheet:** nothing of this job fits on it. Keep it, and load a fresh one.")
    if files.shared:
        others = _plain(", ".join(files.shared))
        lines.append(f"- **Shared:** these sheets carry faces of {others} too. Print them once, for all of these jobs.")
    if job.sheet.copies > 1:
        lines.append(f"- **Copies:** {job.sheet.copies} of each face.")
    return lines + _left_over(job, files)


def _material(finish: Finish) -> str:
    """What is printed on, in a word."""
    if finish.film.look in ("toner", "relief"):
        return "transfer paper"
    return "label stock" if finish.film.name == "adhesive-label" else "film"


def _left_over(job: Job, files: StepFacts) -> list[str]:
    """How to go on with the last sheet the next time, where enough of it is left."""
    if not files.sheets or job.finish.film.look == "plate":  # a service prints on its own film
        return []
    name, page = files.sheets[-1]
    low = page.used[0].y1
    if page.paper[1] - low < WORTH_KEEPING:
        return []
    used = ", ".join(f"[{', '.join(f'{v:g}' for v in (b.x0, b.y0, b.width, b.height))}]" for b in page.used)
    left = f"below {low:g} mm the {'last ' if page.prints > 1 else ''}sheet of `{name}` stays whole"
    return [f"- **Left over:** {left}; to print on it the next time, write `used = [{used}]` under `[sheet]`."]


def _stock(files: StepFacts, what: str = "") -> str:
    """The film or paper to load: ``2 sheets of A4``, with what it is if that is to be said."""
    if not files.sheets:
        count = len(files.faces)
        pieces = f"{count} piece{'s' * (count != 1)} of {what}" if what else f"{count} piece{'s' * (count != 1)}"
        return f"{pieces}, {'each ' if count != 1 else ''}as large as its page"
    paper = files.sheet.paper.name if files.sheet else ""
    started = any(page.started for _, page in files.sheets)
    fresh = sum(page.prints for _, page in files.sheets) - started
    told = ["the started sheet"] if started else []
    told += [f"{fresh} {'fresh ' if started else ''}sheet{'s' * (fresh != 1)}"] if fresh else []
    return f"{' and '.join(told)} of {what} ({paper})" if what else f"{' and '.join(told)} of {paper}"


def _facts(job: Job, files: StepFacts) -> dict[str, str]:
    """What the tables' texts may name."""
    finish = job.finish
    asks = "it should" if finish.mirrored == finish.film.mirrored else "this job asks against the usual"
    way = "reads backwards on the print" if finish.mirrored else "reads right on the print"
    return {
        "files": _names(files.print),
        "faces_files": _names([(name, 1) for name in files.faces]),
        "plate_files": _names([(name.replace("-art.", f"-{plate}."), 1) for name in files.faces for plate in PLATES]),
        "choke": format_number(finish.choke),
        "stock": _stock(files),
        "load": _stock(files, _material(finish)),
        "to_measure": "Measure the bars" if files.sheets else "Measure each face",
        "measure": measured(files.sheets[0][1].bars) if files.sheets else "Each face has its full size.",
        "bleed": format_number(finish.bleed),
        "paint_words": paint_words(job),
        **_painting(job, bool(files.coats)),
        "correction": f"{_plain(correction_note(job.printer))} " if job.printer else "",
        "faces": ", ".join(f"{face.side} {_sizes(face.outline.size)} mm" for face in job.faces),
        "drills": _drills([hole for face in job.faces for hole in face.holes]) or "there are none",
        "way": _way(finish),
        "film_way": f"All lettering {way}, as {asks}.",
        "proof_way": "The print is mirrored, so hold it to a window face down to compare." if finish.mirrored else "",
        "way_service": "the files are mirrored on purpose" if finish.mirrored else "the files are not mirrored",
        "down": _down(finish),
        "cut": _cut(finish),
        **_relief(finish),
        **_marks(finish, job.faces),
        **_template(job, files.guide),
        "uncorrected": _uncorrected(job),
    }


def _painting(job: Job, coats: bool) -> dict[str, str]:
    """How the box gets its ground: in the one colour of its paint, or coat by coat as told above the steps."""
    if coats:
        sprayed = 'Spray the coats as told under "Spray the coats"'
        return {
            "paint_it": f"{sprayed}, each in thin passes.",
            "enamel_it": f"{sprayed}, in enamel that takes an iron, and let them cure fully.",
            "paint_first": f"{sprayed}, and let them cure.",
        }
    return {
        "paint_it": f"Spray primer, then the colour ({job.paint}) in three thin coats, 10 to 15 minutes apart.",
        "enamel_it": f"For a painted ground ({job.paint}) use enamel that takes an iron, and let it cure fully; else "
        "leave the metal bare.",
        "paint_first": f"Paint and cure the box first if it is to be painted ({job.paint}).",
    }


def _template(job: Job, guide: str) -> dict[str, str]:
    """What to drill by, and where to punch: a mirrored print would put every hole on the wrong side."""
    if guide:
        count = sum(len(face.holes) for face in job.faces)
        where = "the cross" if count == 1 else "each cross"
        named = f"`{guide}`, printed at 100 % on plain paper, cut out and folded as it says,"
        return {"template": named, "punch": f"check it with a rule, centre-punch {where}"}
    if not job.finish.mirrored:
        return {"template": "the paper print"}
    again = f"`facegraphic make {job.file} --no-mirror --out template`"
    said = f"a paper print that is not mirrored (from {again}; the mirrored one would put the holes on the wrong side)"
    return {"template": said}


def _uncorrected(job: Job) -> str:
    """A service prints true: files scaled for one's own printer would come back wrong."""
    if not job.printer:
        return ""
    return f"These files are scaled for the printer {_plain(job.printer.name)}: make them anew without --printer. "


def _relief(finish: Finish) -> dict[str, str]:
    """What an etch leaves standing, how it looks once it is filled with paint, and what the border of toner is for."""
    width = format_number(finish.border)
    border = f"A border of toner, {width} mm wide, runs round each face: let the tape overlap it all along."
    if finish.sunk:
        relief = "What is black on the print is kept; lettering and art are bare on it, and are eaten in."
        filled = "Lettering is full of paint to its edges, and the metal round it is bare and even."
    else:
        relief = "What is black on the print is kept, and stands raised in the end."
        filled = "Lines are sharp and the ground keeps its colour to the edge."
    unbordered = "No toner guards the edges of the faces: the tape has to end right on them."
    return {"border": border if finish.border else unbordered, "relief": relief, "filled": filled}


def _marks(finish: Finish, faces: Sequence[Face]) -> dict[str, str]:
    """How print and holes are brought together: by crosses, by openings in the art, or by the edges alone."""
    count = sum(len(face.holes) for face in faces)
    if finish.holes == "mark" and count:
        one = count == 1
        return {
            "punch": "centre-punch the cross" if one else "centre-punch each cross",
            "line_up": "Line the cross up with the hole" if one else "Line the crosses up with the holes",
            "lined_up": f"{'The cross' if one else f'Each of the {count} crosses'} stands in the middle of its hole.",
        }
    if finish.holes == "clear" and count:
        return {
            "punch": "centre-punch the middle of each opening in the art",
            "line_up": "Line the openings in the art up with the holes",
            "lined_up": f"Every opening in the art stands evenly round its hole. {_openings(finish, faces)}",
        }
    return {
        "punch": "mark the holes from your own figures, for the art shows none",
        "line_up": "No hole is marked in the art: line up by the edges",
        "lined_up": "The art reaches each edge of its face evenly.",
    }


def _openings(finish: Finish, faces: Sequence[Face]) -> str:
    """How far openings reach past the edges of their holes, in mm, those of one reach together."""
    found: dict[str, list[str]] = {}
    for face in faces:
        for fit in fits(face, finish):
            found.setdefault(format_number(fit.clear, 1), []).append(fit.hole.id)
    order = sorted(found, key=float)
    past = [f"{reach} mm ({_plain(', '.join(found[reach]))})" for reach in order if float(reach) > 0]
    within = [f"{reach.lstrip('-')} mm ({_plain(', '.join(found[reach]))})" for reach in order if float(reach) <= 0]
    said = [f"Past the hole's edge it reaches {', '.join(past)}."] if past else []
    if within:
        cut = "; the rest is cut away" if finish.film.stays else ""
        said.append(f"It stays within the hole's edge by {', '.join(within)}{cut}.")
    return " ".join(said)


def _way(finish: Finish) -> str:
    """Whether the art is mirrored, and that the printer is to add nothing to it."""
    done = "The art is mirrored already" if finish.mirrored else "The art is not mirrored"
    return f"{done}: leave the printer's own mirror setting off."


def _down(finish: Finish) -> str:
    usual = finish.mirrored == finish.film.mirrored
    return finish.film.down if usual else "which side goes down is not the usual for this process: check with a print"


def _cut(finish: Finish) -> str:
    bleed = format_number(finish.bleed)
    if finish.cut == "line":
        return f"Cut along the thin line; the {bleed} mm of art outside it are bleed and fall away."
    if finish.cut == "ticks":
        return f"Cut from tick to tick; the ticks stand outside the {bleed} mm of bleed, which falls away."
    return f"No cut line is printed: trim {bleed} mm of bleed off each edge."


def _drills(holes: Sequence[Hole]) -> str:
    """Holes by size, smallest first, as in ``2 × 7.5 mm (rate, depth), 1 × 12.2 mm (foot)``."""
    sizes = sorted({hole.d for hole in holes})
    groups = [(size, [hole.id for hole in holes if hole.d == size]) for size in sizes]
    return ", ".join(f"{len(ids)} × {format_number(size)} mm ({_plain(', '.join(ids))})" for size, ids in groups)


def _names(files: Sequence[tuple[str, int]]) -> str:
    """Files by name, and how often each is to be printed if it is more than once."""
    named = (f"`{name}`{f' ({prints} times)' if prints > 1 else ''}" for name, prints in files)
    return ", ".join(named) or "nothing"


def _sizes(lengths: Sequence[float]) -> str:
    return " × ".join(f"{length:.1f}" for length in lengths)


def _span(minutes: Sequence[int]) -> str:
    """A least and a most time in the unit that suits the most: ``10 to 20 min``, ``12 to 24 h``, ``1 to 3 days``."""
    least, most = minutes
    unit, name = (DAY, "days") if most > 2 * DAY else (HOUR, "h") if most > 2 * HOUR else (1, "min")
    first, last = (format_number(value / unit, 1 if unit == DAY and value < 2 * DAY else 0) for value in (least, most))
    if not least:
        return f"up to {last} {name}"
    return f"{first} to {last} {name}" if first != last else f"about {last} {name}"


def _low(title: str) -> str:
    return title[0].lower() + title[1:]


def _plain(text: str) -> str:
    """A user's text in one line, with nothing in it that Markdown would read as its own."""
    return _MARKUP.sub(r"\\\1", " ".join(text.split()))
