"""What is sprayed in which order, for sheets and ``steps.md``. Times between coats are the paint label's own."""

from collections import Counter
from collections.abc import Sequence

from facegraphic.job.model import Coat, Job, Painted
from facegraphic.masks.cut import CutMask
from facegraphic.masks.plugs import Plug
from facegraphic.stock.tables import courses, masks

CAUTION = (
    "Spray outdoors or under an extractor, with the respirator that the paint's label asks for. Between coats wait as"
    " the label says."
)


def named(coat: Coat) -> str:
    """What a coat is: its colour, or its kind."""
    if coat.kind == "clear":
        return "clear coat"
    return f"primer {coat.paint}" if coat.kind == "primer" else str(coat.paint)


def where(coat: Coat) -> str:
    """What a coat goes over, in words."""
    parts = [_region(coat.where)] if coat.where is not None else []
    parts += [f"a {name}" if count == 1 else f"{count} {name}s" for name, count in Counter(coat.named).items()]
    text = " and ".join(filter(None, [", ".join(parts[:-1]), *parts[-1:]]))
    return f"{text} but {_region(coat.keep)}" if coat.keep is not None else text


def order_line(job: Job) -> str:
    """The spraying order in one line."""
    return "Spraying order: " + " · ".join(
        f"{number} {named(coat)}, {where(coat)}" for number, coat in enumerate(job.coats, 1)
    )


def after_art(job: Job) -> tuple[int, int]:
    """How many of the coats, the last ones, are clear and go over the art, and the number of that step; 0, 0 if none.

    Where the process has a clear coat of its own, the clear coats that end the list are that one.
    """
    order = courses()[job.finish.film.name].order
    if "clear-coat" not in order:
        return 0, 0
    count = next((number for number, coat in enumerate(reversed(job.coats)) if coat.kind != "clear"), len(job.coats))
    return count, order.index("clear-coat") + 1


def spraying(job: Job, cut: Sequence[CutMask], plugs: Sequence[Plug], sheets: Sequence[str]) -> tuple[str, ...]:
    """The section of the steps on coats and masks, as lines of Markdown; nothing for a job without coats."""
    if not job.coats:
        return ()
    lines = [
        "## Spray the coats",
        "",
        "This is the painting of the steps below, coat by coat. How long to wait before the next coat, before masking"
        " and before peeling, each paint's label says: some must be sprayed over within the hour or after days only.",
        "",
    ]
    if sheets:
        few = [f"`{name}`" for name in sheets]
        names = ", ".join(few) if len(few) < 4 else f"{few[0]} to {few[-1]}"
        lines += [f"- **Cut first:** print {names} at 100 %, measure the bars, cut along the black lines.", ""]
    if plugs:
        lines += [_plugged(job, plugs), ""]
    late, step = after_art(job)
    for number, coat in enumerate(job.coats, 1):
        text = _coat(number, coat, [mask for mask in cut if mask.one.number == number])
        if number > len(job.coats) - late:
            text += f" It goes over the art: spray it at step {step}."
        lines.append(text)
    stuffs = dict.fromkeys(mask.one.coat.mask for mask in cut)
    lines += ["", *(f"- **Masks of {masks()[name].title}:** {masks()[name].lay}" for name in stuffs)]
    lines += [
        "- **Lay each mask** by its crosses over the holes or by its marks at the middles of the edges. Numbered"
        " pieces go where the print shows them. Cover all other sides with paper and tape. A mask that a plotter cut"
        " has no crosses and marks: prick them through from its printed page, laid over it edge to edge.",
        "- **Keep paint from creeping:** rub the edges down, spray the first pass thin and dry, from straight above.",
        "- **Check:** before each coat, no edge of the mask stands up and no hole is open.",
        "- **Caution:** spray paint and clear coat, solvents, blades; see above. Follow each product's own label and"
        " local rules.",
        "",
    ]
    return tuple(lines)


def stuff(job: Job, masks: Sequence[CutMask]) -> tuple[str, ...]:
    """What coats and masks need, as items of a list; nothing for a job without coats."""
    if not job.coats:
        return ()
    paints = ", ".join(dict.fromkeys(named(coat) for coat in job.coats))
    held = "; ".join(dict.fromkeys(mask.stuff.need for mask in masks))
    return (
        f"for the coats: {paints}; paints of one kind, or tried over each other on scrap first",
        *([f"for the masks: {held}"] if held else []),
        "for the holes and all else that stays clean: adhesive mask film or tape, paper",
    )


def _region(region: object) -> str:
    if isinstance(region, Painted):
        return f"what {region.name} paints"
    return {"everything": "everything", "legends": "the legends", "frames": "the framed areas"}[str(region)]


def _plugged(job: Job, plugs: Sequence[Plug]) -> str:
    bare = [plug for plug in plugs if plug.why]
    text = f"- **Plug the holes:** {len(plugs)} discs from the plug sheet, laid before the first coat and peeled after"
    text += " the last before the art" if after_art(job)[0] else " the last"
    text += ", so that holes and threads stay clean and nuts seat flat."
    if bare:
        text += (
            f' Under "{bare[0].hole.id}" on the {bare[0].side} the metal stays bare outside and inside: {bare[0].why}.'
        )
    return text


def _coat(number: int, coat: Coat, cut: Sequence[CutMask]) -> str:
    text = f"{number}. **{named(coat)[0].upper()}{named(coat)[1:]}**, {where(coat)}; {', '.join(coat.sides)}."
    if not cut:
        return f"{text} No mask but the plugs."
    names = ", ".join(f"`{mask.stem}`" for mask in cut)
    return f"{text} Mask{'s' * (len(cut) > 1)} {names}, {cut[0].stuff.title}."
