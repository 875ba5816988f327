"""What stands in a drawing and is never drawn: editors leave it there, and it is no reason to refuse the drawing."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

from facegraphic.job.drawing_work import HREFS

_NAMED = re.compile(r"url\(\s*['\"]?\s*#([^'\")\s]+)")
_HIDDEN = re.compile(r"(?<![-\w])display\s*:\s*none", re.IGNORECASE)
_ASKED_FOR = ("filter", "mask", "pattern")  # drawn by what names them only
_WRITTEN = ("text", "image", "foreignObject")


def take_out_unused(root: ET.Element) -> None:
    """Take out effects, text and pictures that nothing shows: unnamed, empty or not displayed."""
    _take_out(root, set(_names(root)), unseen=False)


def _names(root: ET.Element) -> Iterator[str]:
    """The ids that a drawing names anywhere."""
    for node in root.iter():
        for key, value in node.items():
            if key in HREFS:
                yield value.strip().lstrip("#")
            elif "url" in value:
                yield from _NAMED.findall(value)
        if node.text and "url" in node.text:
            yield from _NAMED.findall(node.text)


def _take_out(node: ET.Element, named: set[str], unseen: bool) -> None:
    for child in list(node):
        name = str(child.tag).rpartition("}")[2]
        hidden = child.get("display", "").strip() == "none" or bool(_HIDDEN.search(child.get("style", "")))
        away = (unseen or hidden or name == "defs") and child.get("id") not in named
        empty = name == "text" and not "".join(child.itertext()).strip()
        if (name in _ASKED_FOR and child.get("id") not in named) or (name in _WRITTEN and (away or empty)):
            node.remove(child)
        else:
            _take_out(child, named, away)
