"""The job file of a plan: text that a person reads and edits."""

from collections.abc import Iterator, Mapping

from facegraphic.planning.model import Placed, Plan
from facegraphic.stock.faces import SIDES
from facegraphic.stock.tables import films

HEAD = """\
# A facegraphic job, laid out for
#   {asked}.
# Labels are placeholders: write your own. Body sizes are typical ones: measure your parts before you drill.
title = "{title}"

[box]
stock = "{box}"{pad}# {why}
orientation = "{orientation}"
paint = "{paint}"

[finish]
process = "{process}"
ink = "{ink}"
"""
PAINT = "#e8e2d0"
IN_HOLLOWS = "#22333b"  # bare metal reads on dark paint


def job_text(plan: Plan, asked: str, title: str, process: str, title_height: float) -> str:
    """The job file of a plan. `title_height` is that of the title on the top face; 0 leaves it out."""
    film = films()[process]
    why = "the smallest that will do: see below" if plan.refused else "the smallest there is, or the one asked for"
    text = HEAD.format(
        asked=asked,
        title=title,
        box=plan.box.name,
        pad=" " * max(1, 16 - len(plan.box.name)),
        why=why,
        orientation="landscape" if plan.across > plan.deep else "portrait",
        paint=IN_HOLLOWS if film.look == "relief" else PAINT,
        process=process,
        ink="#000000" if film.bits == 1 else "#1d2b36",
    )
    if plan.refused:
        text += "\n# Why no smaller box:\n" + "".join(f"#   {name}: {why}\n" for name, why in plan.refused)
    for side in SIDES:
        if placed := plan.on(side):
            text += "\n" + "\n".join(_face(side, placed)) + "\n"
            if side == "top" and title_height:
                text += f'\n[[face.text]]\ntext = "{{title}}"\nat = "auto"\nheight = {title_height:g}\n'
    return text


def _face(side: str, placed: tuple[Placed, ...]) -> Iterator[str]:
    seen = "" if side == "top" else ", seen from outside"
    yield "[[face]]"
    yield f'side = "{side}"{" " * (18 - len(side))}# positions count from the face centre, x right, y up{seen}'
    yield "hole = ["
    for one in placed:
        at = f"[{one.x:g}, {one.y:g}]"
        yield f'    {{ id = "{one.item.id}", at = {at}, d = {one.item.part.hole:g} }},'
    yield "]"
    for one in placed:
        item = one.item
        yield ""
        yield "[[face.control]]"
        yield f'hole = "{item.id}"'
        yield f'part = "{item.part.name}"'
        if item.kind.knobs:
            yield f'knob = "{item.knob.name if item.knob else "none"}"'
        if one.turn:
            yield f"turn = {one.turn:g}"
        if item.label and (item.kind.name != "footswitches" or _several(placed, item.kind.name)):
            yield f'label = "{item.label}"'
            if item.kind.name == "footswitches":
                yield 'place = "below"'  # above it would read as the name of the lamp there


def _several(placed: tuple[Placed, ...], kind: str) -> bool:
    return sum(one.item.kind.name == kind for one in placed) > 1


def asked_for(counts: Mapping[str, int], titles: Mapping[str, str]) -> str:
    """What was asked for, in words."""
    named = [f"{count} {titles[kind]}{_plural(titles[kind], count)}" for kind, count in counts.items() if count]
    return ", ".join(named)


def _plural(title: str, count: int) -> str:
    return "" if count == 1 else "es" if title.endswith("ch") else "s"
