"""What kind of file some bytes are, by what they hold: names and endings of files say too little."""

import codecs
import re

from facegraphic.drill.model import Kind, Unreadable

MEND = "give a hole table (CSV, TSV), an NC drill file, a DXF or an SVG"
BINARY_DXF = re.compile(rb"\A\w{1,20} Binary DXF\r\n\x1a\x00")  # a word, then this (DXF reference)
# Signatures of what people try, and what to do instead.
_OTHERS = (
    (b"%PDF", "a PDF", "export the drawing as SVG or DXF"),
    (b"PK\x03\x04", "a zip archive or a spreadsheet's own format", "unpack it, or save the sheet as CSV"),
    (b"\x1f\x8b", "compressed (gzip)", "unpack it first"),
    (b"\xd0\xcf\x11\xe0", "an office program's own format", "save the sheet as CSV"),
    (b"AC10", "a DWG drawing", "save it as DXF"),
    (b"AC1.", "a DWG drawing", "save it as DXF"),
    (b"%!PS", "PostScript", "export the drawing as SVG or DXF"),
)
_WIDE_SVG = ("<svg".encode("utf-16-le"), "<svg".encode("utf-16-be"))
_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
# Tabs, line and page ends, and what paper tapes and old systems put at their starts and ends.
_CONTROLS = (0x03, 0x09, 0x0A, 0x0C, 0x0D, 0x11, 0x13, 0x1A)
# Blanks within a line only: with all white space these would crawl through files of empty lines.
_GERBER = re.compile(rb"%FS[LTD][AI]X\d\d|%MO(MM|IN)\*%")
_DXF = re.compile(rb"\A(\s*999\r?\n[^\n]*\n)*\s*0\r?\n\s*SECTION\r?\n", re.IGNORECASE)
_M48 = re.compile(r"^[ \t]*M48[ \t\r]*$", re.MULTILINE | re.IGNORECASE)
_G_CODE = re.compile(
    r"^[ \t]*(N\d+[ \t]*)?(G2[01]\b|G0?[01]\b[^;(\n]{0,80}Z[ \t]*[-+]?[\d.])", re.MULTILINE | re.IGNORECASE
)
_NC_HEAD = re.compile(r"^[ \t]*(M48|M95|(INCH|METRIC)\b.*|M7[12])[ \t\r]*$", re.MULTILINE | re.IGNORECASE)
_NC_TOOL = re.compile(r"^[ \t]*T\d+[ \t]*([CFSBHZ][ \t]*[\d.].*)?\r?$", re.MULTILINE | re.IGNORECASE)
_NC_HIT = re.compile(r"^[ \t]*(G0?\d+)?(T\d+)?[XY][ \t]*[-+]?[\d.]", re.MULTILINE | re.IGNORECASE)


def kind_of(data: bytes) -> Kind:
    """The kind of hole file that some bytes are. Unreadable if they are none."""
    for signature, what, mend in _OTHERS:
        if data.startswith(signature):
            raise Unreadable(f"this is {what}, not a file of hole positions", mend)
    if BINARY_DXF.match(data) or _DXF.match(data.removeprefix(codecs.BOM_UTF8)):
        return "DXF"
    head = data[:65536]
    if b"<svg" in head or b":svg" in head[:2000] or any(mark in head for mark in _WIDE_SVG):
        return "SVG"
    if _GERBER.search(head):
        raise Unreadable("this is a Gerber file: it holds copper or outlines", "give the drill file that goes with it")
    text = text_of(data)[:200_000]
    if _G_CODE.search(text) and not _M48.search(text):
        raise Unreadable(
            "this is G-code for a mill, not a drill file", "give the drill file or drawing it was made from"
        )
    if looks_like_nc(text):
        return "NC drill"
    return "table"


def looks_like_nc(text: str) -> bool:
    """A head or a tool with, or instead of it, a hit; a table's header is neither."""
    code = re.sub(r"[;(].*", "", text)
    signs = [pattern.search(code) is not None for pattern in (_NC_HEAD, _NC_TOOL, _NC_HIT)]
    return sum(signs) >= 2 or (signs[0] and _M48.search(code) is not None)


def text_of(data: bytes) -> str:
    """The text that some bytes are: UTF-8 or UTF-16 with a mark at the start, else UTF-8, else Latin-1.

    Unreadable if they are no text.
    """
    for mark, name in _MARKS:
        if data.startswith(mark):
            try:
                return _plain(data[len(mark) :].decode(name))
            except UnicodeDecodeError:
                raise Unreadable("the file is not the text that its first bytes promise", "save it as UTF-8") from None
    if b"\0" in data:
        raise Unreadable("this is a binary file, no text", f"{MEND}, saved as text")
    try:
        return _plain(data.decode("utf-8"))
    except UnicodeDecodeError:
        high = len(data) - len(data.translate(None, bytes(range(128, 256))))
        if 3 * high > len(data):  # tables and programs are figures for the most part, whatever their language
            raise Unreadable("this is a binary file, no text", f"{MEND}, saved as text") from None
        return _plain(data.decode("latin-1"))


def _plain(text: str) -> str:
    """A text without the control characters that binary files are full of. Unreadable if it has them."""
    odd = sum(text.count(chr(code)) for code in range(32) if code not in _CONTROLS)
    if odd > len(text) // 100 or "\0" in text:
        raise Unreadable("this is a binary file, no text", f"{MEND}, saved as text")
    return text
