"""The preview as one HTML file: the still picture, the turning box, what is printed, masked and drilled."""

import html
import json
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from string import Template
from typing import Any

from facegraphic.output.small_pictures import THREADS, Urls
from facegraphic.output.web_files import preview_script, web_file
from facegraphic.preview.model import FaceLook, Model, Pixels
from facegraphic.preview.packed import packed, worn
from facegraphic.preview.pages import Leaf, PreviewPages, Stage
from facegraphic.units import format_number

Parts = list[tuple[str, str, Sequence[Leaf]]]  # id, name and pictures of what the page can show
NOT_TO_SCALE = (
    '<p class="scale">To look at only, not to scale: print, cut and drill from the files beside this page.</p>'
)


def preview_html(title: str, model: Model, shown: PreviewPages) -> bytes:
    """The page, UTF-8, with all that it needs inside: it opens from any folder and asks the network for nothing."""
    stages = (*shown.coats, Stage("Finished", shown.finished, parts=True))
    parts: Parts = [("finished", "Finished", ())]
    parts += [
        (id, name, leaves)
        for id, name, leaves in (
            ("printed", "As printed", shown.printed),
            ("masks", "Masks", shown.masks),
            ("drill", "Drill", shown.drill),
        )
        if leaves
    ]
    with ThreadPoolExecutor(THREADS) as pool:
        urls = Urls(pool)
        urls.ask(shown.still, photograph=True)
        for leaf in (*shown.drill, *shown.masks, *shown.printed):
            urls.ask(leaf.picture)
        for look in (look for stage in stages for look in stage.looks.values()):
            for layer in (look.picture, look.film):
                if layer is not None:
                    urls.ask_alike(layer)
        return _page(title, model, shown.still, stages, parts, urls).encode("utf-8")


def _page(title: str, model: Model, still: Pixels, stages: Sequence[Stage], parts: Parts, urls: Urls) -> str:
    return Template(web_file("preview.html")).substitute(
        title=html.escape(title),
        size=" × ".join(format_number(round(value, 1)) for value in model.size) + " mm",
        style=web_file("preview.css"),
        alt=html.escape(f"{title}: the finished box from above its front", quote=True),
        still=urls.url(still),
        parts=_choices("part", [(id, name) for id, name, _ in parts], 0),
        stages=_stages(stages),
        sections="\n".join(_section(id, name, leaves, urls) for id, name, leaves in parts[1:]),
        data=_data(model, stages, urls),
        script=preview_script(),
    )


def _choices(name: str, values: Sequence[tuple[str, str]], chosen: int) -> str:
    return "\n".join(
        f'<label><input type="radio" name="{name}" value="{value}"{" checked" if number == chosen else ""}>'
        f"<span>{html.escape(text)}</span></label>"
        for number, (value, text) in enumerate(values)
    )


def _stages(stages: Sequence[Stage]) -> str:
    """The step through the coats, where there are any."""
    if len(stages) < 2:
        return ""
    rows = _choices("stage", [(str(number), stage.title) for number, stage in enumerate(stages)], len(stages) - 1)
    return (
        '<fieldset id="stages" class="needs-view" hidden><legend>Step by step</legend>'
        f'<div class="row">\n{rows}\n</div></fieldset>'
    )


def _section(id: str, name: str, leaves: Sequence[Leaf], urls: Urls) -> str:
    figures = "\n".join(_leaf(leaf, urls.url(leaf.picture)) for leaf in leaves)
    return f'<section id="{id}">\n<h2>{name}</h2>\n{NOT_TO_SCALE}\n<div class="leaves">\n{figures}\n</div>\n</section>'


def _leaf(leaf: Leaf, source: str) -> str:
    caption = html.escape(leaf.caption)
    mark = '<span class="mirrored">mirrored</span>' if leaf.mirrored else ""
    alt = html.escape(leaf.caption + (", mirrored" if leaf.mirrored else ""), quote=True)
    return f'<figure><img alt="{alt}" src="{source}"><figcaption><span>{caption}</span>{mark}</figcaption></figure>'


def _data(model: Model, stages: Sequence[Stage], urls: Urls) -> str:
    """What the script reads. A picture that several stages share stands there once."""
    pictures: dict[str, int] = {}

    def place(pixels: Pixels) -> int:
        return pictures.setdefault(urls.url(pixels), len(pictures))

    def dressed(look: FaceLook) -> dict[str, Any]:
        return {
            "picture": place(look.picture),
            "film": None if look.film is None else place(look.film),
            "extent": [round(value, 4) for value in look.extent],
        }

    told = [
        {
            "title": stage.title,
            "looks": {side: dressed(look) for side, look in stage.looks.items()},
            "parts": stage.parts,
            "shell": None if stage.shell is None else worn(stage.shell),
        }
        for stage in stages
    ]
    values = {"model": packed(model), "stages": told, "pictures": list(pictures)}
    # "<" could only end the element early.
    return json.dumps(values, separators=(",", ":"), ensure_ascii=False).replace("<", "\\u003c")
