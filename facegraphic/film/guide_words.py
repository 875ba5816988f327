"""What the drill guide says."""

import math
from collections.abc import Sequence
from dataclasses import replace

from facegraphic.film.correction import correction_note
from facegraphic.film.guide_text import BOLD, FINE, HEAD, PLAIN, TITLED, Hand
from facegraphic.film.sheet_marks import measured
from facegraphic.job.model import Job
from facegraphic.stock.tables import drill_rules, hazards
from facegraphic.units import format_number

Words = list[tuple[str, Hand]]
MEASURING = (
    "The box stands on its base; look straight at the side you measure, from outside (at TOP with FRONT towards "
    "you). x is level, from where the named side stands at the hole's height: hold the calliper's jaw flat on that "
    "side. y is along the face. The lid edge is the rim of the open box, without its lid."
)
BITS = (
    "Bits are the nearest that are not smaller; “over by” tells by how many mm they are larger than the hole. "
    "Inch bits are by 64ths. Holes without a pilot are small enough to be drilled at once."
)
LARGE = (
    "* Over {step} mm, in sheet aluminium or the thin wall of a cast box, a twist bit grabs and tears: drill to about "
    "{step} mm, then open the hole with a step drill, turning slowly, and stop at the step of its size. Where “–” "
    "stands for a bit the table has none so large: step drill, hole punch or file."
)
CAUTIONS = (
    "Clamp the box on a board; hold no part of it by hand while the drill turns.",
    "Wear goggles. No gloves, no loose sleeves, cords or hair near the drill. Swarf is sharp: brush it off.",
    "Check two distances on the box with a rule before the first hole, and that no screw post or part is behind it.",
    "Centre-punch each cross, drill the pilot first, then to size in steps; slow down before the bit breaks through.",
    "Deburr both rims of every hole.",
    "Instructions of your tools and products, the parts' own drawings and your local rules come before this page.",
)


def title(job: Job, page: str, width: float) -> tuple[str, Hand]:
    """The title in one line, smaller if it is long; if that is not enough, the job's own part of it ends with dots."""
    own = " ".join(job.title.split())
    for hand in (TITLED, replace(TITLED, cap=HEAD.cap), BOLD):
        said = " · ".join(filter(None, ("Drill guide", own, page)))
        if hand.width(said) <= width:
            return (said, hand)
    most = max((n for n in range(len(own)) if hand.width(f"Drill guide · {own[:n]}… · {page}") <= width), default=0)
    return (f"Drill guide · {own[:most].rstrip()}… · {page}", hand)


def box_words(job: Job) -> str:
    """The box by name and size."""
    size = " × ".join(format_number(length) for length in job.box.size)
    lean = f", walls leaning by {format_number(job.box.draft)}°" if job.box.draft else ""
    return f"Box {job.box.name}: {size} mm outside{lean}."


def head(job: Job, page: str, bars: Sequence[float], how: str, width: float) -> Words:
    """What stands above the faces, on a page that has some width."""
    words: Words = [title(job, page, width), (box_words(job), PLAIN)]
    words.append((f"Seen from outside, never mirrored. Print at 100 %, not fitted to the page. {measured(bars)}", BOLD))
    words.append((how, PLAIN))
    if job.printer:
        words.append((correction_note(job.printer), FINE))
    return words


def wrapping(job: Job) -> str:
    """How the whole net is used."""
    words = (
        "Cut along the full lines, crease sharply along the dashed ones, wrap it round the box with TOP up and FRONT "
        "towards you, tape it down. Grey lines show where each side's flat part ends; short marks its middle."
    )
    if pulled := pull(job):
        words += (
            f" Do not pull the paper round the edges: holes in the walls would move by {format_number(pulled, 1)} mm."
        )
    return words


def pull(job: Job) -> float:
    """How much shorter the way round an edge is on its rounding than over the line where the planes meet, in mm.

    An edge of radius r that turns by an angle a: 2 r tan(a/2) over the line, r a on the rounding (plain geometry).
    """
    turn = math.pi / 2 - math.radians(job.box.draft)
    more = job.box.edge * (2 * math.tan(turn / 2) - turn)
    return more if more >= 0.05 else 0.0


def hooking(side: str, part: str) -> str:
    """How a face by itself is used."""
    said = f"{side.upper()}{part}: the box is too large to be folded out on this paper. "
    where = "all its edges" if side == "top" else "its upper edge"
    said += f"Cut along the full lines, crease {where} and hook the flaps over the box; tape it down. "
    if part:
        said += "Lay the parts of a face over each other, mark on mark, and tape them together first. "
    return f"{said}Grey lines show where the flat part ends; short marks its middle."


def after_table(large: bool) -> Words:
    """What stands below the table."""
    words: Words = [(BITS, FINE)]
    if large:
        words.append((LARGE.format(step=format_number(drill_rules().step_above)), FINE))
    words.append((hazards()["drill"].title + ": take care", HEAD))
    return [*words, *((f"– {text}", PLAIN) for text in CAUTIONS)]
