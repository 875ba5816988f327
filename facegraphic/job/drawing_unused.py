"""What stands in a drawing and is never drawn: editors leave it there, and it is no reason to refuse the drawing."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Callable, Iterator

from facegraphic.job.drawing_work import HREFS

_NAMED = re.compile(r"url\(\s*['\"]?\s*#([^'\")]+)", re.IGNORECASE)
_DISPLAY = re.compile(r"(?<![-\w])display\s*:\s*([^;]*)", re.IGNORECASE)
_ESCAPED = re.compile(r"%([0-9a-fA-F]{2})")
_ASKED_FOR = ("filter", "mask", "pattern")  # drawn by what names them only
_WRITTEN = ("text", "image", "foreignObject")


def take_out_unused(root: ET.Element) -> None:
    """Take out effects, text and pictures that nothing shows: unnamed, empty or not displayed."""
    sheets = "".join(node.text or "" for node in root.iter() if str(node.tag).endswith("}style"))
    hidden = (lambda node: False) if "display" in sheets.lower() else _is_hidden
    named = set(_names(root))
    # A name may be written as addresses are (RFC 3986, 2.1).
    named |= {_ESCAPED.sub(lambda found: chr(int(found[1], 16)), name) for name in named}
    _take_out(root, named, hidden, unseen=False)


def _is_hidden(node: ET.Element) -> bool:
    """Whether an element is not displayed, by its own word: where style sheets speak of that, it may be by theirs."""
    style = node.get("style", "")
    said = _DISPLAY.findall(style) or [node.get("display", "")]
    return str(said[-1]).strip().lower() == "none" and "/*" not in style and "\\" not in style


def _names(root: ET.Element) -> Iterator[str]:
    """The ids that a drawing names anywhere."""
    for node in root.iter():
        for key, value in node.items():
            if key in HREFS:
                yield value.strip().lstrip("#")
            else:
                yield from map(str.strip, _NAMED.findall(value))
        yield from map(str.strip, _NAMED.findall(node.text or ""))


def _take_out(node: ET.Element, named: set[str], hidden: Callable[[ET.Element], bool], unseen: bool) -> None:
    for child in list(node):
        name = str(child.tag).rpartition("}")[2]
        away = (unseen or hidden(child) or name == "defs") and child.get("id") not in named
        empty = name == "text" and not "".join(child.itertext()).strip()
        if (name in _ASKED_FOR and child.get("id") not in named) or (name in _WRITTEN and (away or empty)):
            node.remove(child)
        else:
            _take_out(child, named, hidden, away)
