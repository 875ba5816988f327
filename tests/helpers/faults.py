"""Bad jobs, one fault each, and what must be said of it.

The line with the fault is marked "# here"; the message must name that line. Keys are the paths that must be named.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from helpers.jobs import blank_png, good, png_file, svg


@dataclass(frozen=True)
class Fault:
    name: str
    job: str | bytes
    key: str
    says: tuple[str, ...]
    files: Mapping[str, str | bytes] = field(default_factory=dict)
    elsewhere: str = ""

    @property
    def place(self) -> str:
        """The start of the message: file, line and key path; or the place in another file than the job."""
        if self.elsewhere:
            return self.elsewhere
        lines = (self.job if isinstance(self.job, str) else self.job.decode("latin-1")).splitlines()
        line = next((f":{number}" for number, text in enumerate(lines, 1) if "# here" in text), "")
        return f"job.toml{line}: " + (f"{self.key}: " if self.key else "")


def _key(name: str, old: str, new: str, key: str, *says: str) -> Fault:
    return Fault(name, good(old, f"{new}  # here"), key, says)


def _art(name: str, data: bytes, *says: str, file: str = "waves.svg") -> Fault:
    job = good('file = "waves.svg"', f'file = "{file}"  # here')
    return Fault(name, job, "face[0].art[0].file", (f'"{file}" cannot be used as artwork', *says), {file: data})


def _table(name: str, text: str, place: str, *says: str) -> Fault:
    return Fault(name, good(), "", says, {"holes.csv": text}, elsewhere=place)


TOML = [
    Fault(
        "no closing quote",
        good('title = "Bell Buoy"', 'title = "Bell Buoy # here'),
        "",
        ("not valid TOML: a text has no closing quote", "end it with the quote"),
    ),
    Fault("no value", good("dpi = 150", "dpi =  # here"), "", ("a key has no value", "write one after the =")),
    Fault("key twice", good("dpi = 150", "dpi = 150\ndpi = 300 # here"), "", ("stands twice", "leave one of them")),
    Fault("table twice", good("[sheet]", "[box] # here"), "", ("a table stands twice", "put what belongs")),
    Fault("unquoted text", good('label = "RATE"', "label = RATE # here"), "", ("without quotes", 'write it as "RATE"')),
    Fault(
        "bracket left open",
        good("at = [0, 5]\n\n[[face.art]]", "at = [0, 5 # here\n\n[[face.art]]"),
        "",
        ("not valid TOML: the list that begins here", "put ]"),
    ),
    Fault("not UTF-8", good().encode() + b"# here caf\xe9\n", "", ("not UTF-8 text", "save it as UTF-8")),
    Fault(
        "nested too deeply", good() + f"used = {'[' * 2000}{']' * 2000}  # here\n", "", ("nested too deeply", "flatten")
    ),
    Fault("integer of 5000 digits", good("dpi = 150", f"dpi = {'9' * 5000}"), "", ("beyond 64 bits", "shorten")),
]

KEYS = [
    _key("unknown key", "dpi = 150", "dip = 150", "finish.dip", "this key is not known here", 'did you mean "dpi"?'),
    _key("unknown key in a scale", "step = 1 }", "step = 1, stop = 3 }", "face[0].control[0].scale.stop", "not known"),
    _key("unknown table", "[sheet]", "[shet]", "shet", "not known here", 'did you mean "sheet"?'),
    _key("unknown part", 'part = "pot-16"', 'part = "pot-61"', "face[0].control[0].part", 'did you mean "pot-16"?'),
    _key("unknown knob", 'knob = "round-16"', 'knob = "rond-16"', "face[0].control[0].knob", 'mean "round-16"?'),
    _key("unknown process", '"waterslide-clear"', '"waterslide-cleer"', "finish.process", 'mean "waterslide-clear"?'),
    _key(
        "unknown font", "dpi = 150", 'font = "gothic"', "finish.font", '"gothic" is not known', "barlow-condensed-bold"
    ),
    _key("unknown box", '"112x60x31"', '"112x60x32"', "box.stock", 'did you mean "112x60x31"?'),
    _key("unknown paper", 'paper = "A4"', 'paper = "A9"', "sheet.paper", '"A9" is not known', "known are: A3, A4, A5"),
    _key("unknown side", 'side = "top"', 'side = "bottom"', "face[0].side", "back, front, left, right, top"),
    _key("unknown colour", '"#141414"', '"#14141"', "finish.ink", '"#22505c" or by its CSS name'),
    _key("colour out of range", '"#141414"', '"rgb(999, 0, 0)"', "finish.ink", '"#22505c" or by its CSS name'),
    _key("unknown field", '"{title}"', '"{titel}"', "face[0].text[0].text", "called {titel}", 'mean "title"?'),
    _key("brace left open", '"{title}"', '"{title"', "face[0].text[0].text", "a single {", "{{ and }}"),
    _key("character without glyph", '"RATE"', '"RATE 率"', "face[0].control[0].label", "no glyph", "U+7387"),
    _key("control character", '"RATE"', '"RA\\u0007TE"', "face[0].control[0].label", "U+0007", "take it out"),
    _key("text for a number", "dpi = 150", 'dpi = "150"', "finish.dpi", "a whole number is wanted"),
    _key("fraction for a whole", "dpi = 150", "dpi = 150.5", "finish.dpi", "a whole number is wanted"),
    _key("truth for a number", "bleed = 2.0", "bleed = true", "finish.bleed", "a length is a number of mm"),
    _key("number for a text", 'label = "RATE"', "label = 3", "face[0].control[0].label", "a text in quotes"),
    _key("number for a truth", "dpi = 150", "mirror = 1", "finish.mirror", "true or false is wanted"),
    _key("date for a colour", '"#141414"', "1979-05-27", "finish.ink", "a colour is written as"),
    _key("text for a list", "at = [0, 5]", 'at = "middle"', "face[0].text[0].at", "a list of 2 lengths"),
    _key("three for two", "at = [0, 5]", "at = [0, 5, 1]", "face[0].text[0].at", "a list of 2 lengths"),
    _key("table for a list", "[[face.text]]", "[face.text]", "face[0].text", "not a list of tables", "[[face.text]]"),
    _key("no copies", 'paper = "A4"', "copies = 0", "sheet.copies", "must lie between 1 and 1000"),
    _key("negative copies", 'paper = "A4"', "copies = -3", "sheet.copies", "must lie between 1 and 1000"),
    _key("used region of three", 'paper = "A4"', "used = [[0, 0, 210]]", "sheet.used", "[[x, y, width, height]"),
    _key(
        "used region off the paper", 'paper = "A4"', "used = [[0, 300, 9, 9]]", "sheet.used", "is not on A4, 210 × 297"
    ),
    _key(
        "used region of no width", 'paper = "A4"', "used = [[0, 0, 0, 9]]", "sheet.used", "needs a width and a height"
    ),
    _key("edges that leave nothing", 'paper = "A4"', "edge = 150", "sheet.edge", "leave nothing of A4"),
    _key("three edges", 'paper = "A4"', "edge = [8, 8, 8]", "sheet.edge", "[left, upper, right, lower]"),
    _key("too narrow a gap", 'paper = "A4"', "gap = 1", "sheet.gap", "must lie between 4 and 50"),
    _key("price in words", 'paper = "A4"', 'price = "cheap"', "sheet.price"),
    _key("paper and size", 'paper = "A4"', 'paper = "A4"\nsize = [210, 297]', "sheet.size", "both paper and size"),
    _key("list for a table", "[sheet]", "[[sheet]]", "sheet", "is not a table"),
    _key("bad length", "bleed = 2.0", 'bleed = "2 parsec"', "finish.bleed", "unknown unit parsec", "mm, cm, in"),
    _key("NaN length", "bleed = 2.0", "bleed = nan", "finish.bleed", "finite number"),
    _key("NaN position", "at = [0, 5]", "at = [nan, 5]", "face[0].text[0].at", "finite number"),
    _key("NaN opacity", "opacity = 0.5", "opacity = nan", "face[0].art[0].opacity", "a finite number is wanted"),
    _key("NaN dpi", "dpi = 150", "dpi = nan", "finish.dpi", "a whole number is wanted"),
    _key("infinite height", "at = [0, 5]", "height = inf", "face[0].text[0].height", "finite number"),
    _key("integer beyond 64 bits", "opacity = 0.5", "opacity = 1" + "0" * 40, "face[0].art[0].opacity", "64 bits"),
    _key("hexadecimal beyond 64 bits", "dpi = 150", "dpi = 0x" + "f" * 5000, "finish.dpi", "64 bits"),
    _key("negative bleed", "bleed = 2.0", "bleed = -0.1", "finish.bleed", "between 0 and 20 mm"),
    _key("huge bleed", "bleed = 2.0", "bleed = 1e9", "finish.bleed", "between 0 and 20 mm"),
    _key("negative box", 'stock = "112x60x31"', "size = [-112, 60, 31]", "box.size", "between 5 and 2000 mm"),
    _key("huge box", 'stock = "112x60x31"', "size = [1e6, 60, 31]", "box.size", "between 5 and 2000 mm"),
    _key("box without a flat", 'stock = "112x60x31"', "size = [30, 5, 5]", "box.size", "leave no flat"),
    _key("zero dpi", "dpi = 150", "dpi = 0", "finish.dpi", "between 72 and 4800"),
    _key("huge dpi", "dpi = 150", "dpi = 1000000", "finish.dpi", "between 72 and 4800"),
    _key("negative height", "at = [0, 5]", "height = -3", "face[0].text[0].height", "between 0.5 and 200 mm"),
    _key("opacity above one", "opacity = 0.5", "opacity = 1.5", "face[0].art[0].opacity", "between 0 and 1"),
    _key("fraction over nothing", "bleed = 2.0", 'bleed = "3/0 in"', "finish.bleed", "0 below the line"),
    _key("hole unknown", 'hole = "rate"', 'hole = "ratte"', "face[0].control[0].hole", "has the id", 'mean "rate"?'),
    _key("no hole in reach", 'hole = "rate"', "at = [0, 0]", "face[0].control[0].at", "no hole lies within 5 mm"),
    Fault(
        "scale that does not turn",
        good('part = "pot-16"', 'part = "footswitch"').replace("step = 1 }", "step = 1 }  # here"),
        "face[0].control[0].scale",
        ("footswitch does not turn", "a scale needs a turning part"),
    ),
    _key("steps that miss", "step = 1 }", "step = 3 }", "face[0].control[0].scale", "makes no scale", "whole steps"),
    _key("steps without end", "step = 1 }", "step = 1e-6 }", "face[0].control[0].scale", "makes no scale"),
    _key(
        "positions of a pot", 'label = "RATE"', 'positions = ["A", "B"]', "face[0].control[0].positions", "no positions"
    ),
    _key("drill file missing", '"holes.csv"', '"hols.csv"', "face[0].drill", '"hols.csv": there is no such file'),
    _key("drill file a folder", '"holes.csv"', '"."', "face[0].drill", "this is a folder, not a file"),
    _key("art missing", '"waves.svg"', '"wave.svg"', "face[0].art[0].file", '"wave.svg": there is no such file'),
    _key("font file missing", "dpi = 150", 'font = "x.ttf"', "finish.font", '"x.ttf": there is no such file'),
    _key("font file no font", "dpi = 150", 'font = "holes.ttf"', "finish.font", "there is no such file"),
    _key("two faces of a side", "[sheet]", '[[face]]\nside = "top"', "face[1].side", '"top" is there twice'),
    Fault(
        "no box",
        good('[box]\nstock = "112x60x31"\norientation = "portrait"\npaint = "#22505c"\n', ""),
        "",
        ('"box" is missing', "add [box]"),
    ),
    Fault("empty", "", "", ('"box" is missing', "the job has no face", "2 problems")),
]

INLINE = 'hole = [{{ id = "rate", at = {at}, d = {d} }}, {{ id = "{other}", at = [0, -36], d = 12.2 }}]'


def _holes(name: str, *says: str, at: str = "[-12, 32]", d: str = "7.5", other: str = "foot", key: str = "") -> Fault:
    job = good('drill = "holes.csv"', INLINE.format(at=at, d=d, other=other) + "  # here")
    return Fault(name, job, f"face[0].hole[{'1' if other == 'rate' else '0'}]{key}", says)


HOLES = [
    _holes("hole outside the face", "outside the face", "the top face is", "check the position", at="[-12, 320]"),
    _holes("NaN hole", "finite number", at="[nan, 32]", key=".at"),
    _holes("huge hole position", "between -2000 and 2000", at="[1e300, 32]", key=".at"),
    _holes("negative diameter", "diameter of -7.5 mm", "between 0.2 and 200 mm", d="-7.5"),
    _holes("huge diameter", "diameter of 7500 mm", "between 0.2 and 200 mm", d="7500"),
    _holes("NaN diameter", "finite number", d="nan", key=".d"),
    _holes("two holes with one id", 'two holes have the id "rate"', "its own id", other="rate"),
    _table(
        "outside, in a table", "id,x,y,d\nrate,-12,32,7.5\nfoot,0,-99,12\n", "holes.csv:3: ", "hole foot stands outside"
    ),
    _table(
        "one id twice, in a table",
        "id,x,y,d\nrate,-12,32,7\nrate,9,9,7\n",
        "holes.csv:3: ",
        'two holes have the id "rate"',
    ),
    _table(
        "wrong columns",
        "name;left;top\nrate;1;2\n",
        "holes.csv:1: ",
        'column "left" is not known',
        "no column for x, y, d",
    ),
    _table("column missing", "id,x,y\nrate,-12,32\n", "holes.csv:1: ", "no column for d", "columns id, x, y and d"),
    _table(
        "decimal commas and points",
        "id;x;y;d\nrate;-12,5;32;7.5\n",
        "holes.csv:2: ",
        "decimal commas, and decimal points from line 2 on",
        "all figures one way",
    ),
    _table(
        "decimal comma and unit",
        'id,x,y,d\nrate,-12,32,"7,5 mm"\n',
        "holes.csv:2: ",
        'decimal comma in d = "7,5 mm"',
        "point: 7.5 mm",
    ),
    _table(
        "decimal commas among commas",
        "id,x,y,d\nrate,-12,5,32,7,5\n",
        "holes.csv:2: ",
        "6 cells where 4",
        "with a point",
    ),
    _table(
        "no figure", "id,x,y,d\nrate,left,32,7.5\n", "holes.csv:2: ", 'x = "left" is not a length', "number and a unit"
    ),
    _table("NaN in a table", "id,x,y,d\nrate,nan,32,7.5\n", "holes.csv:2: ", 'x = "nan" is not a length'),
    _table("hole without id", "id,x,y,d\n,-12,32,7.5\n", "holes.csv:2: ", "a hole without an id", "name every hole"),
    _table("empty table", "", "holes.csv: ", "the table is empty", "write a header id,x,y,d"),
    Fault(
        "binary table",
        good(),
        "",
        ("this is a binary file, no text", "give a hole table (CSV, TSV), an NC drill file, a DXF or an SVG"),
        {"holes.csv": b"\x00\xff"},
        elsewhere="holes.csv: ",
    ),
]

ART = [
    _art("text for a picture", b"not a picture at all", "not a PNG, JPEG, TIFF or SVG", file="waves.png"),
    _art("nothing for a picture", b"", "not a PNG, JPEG, TIFF or SVG", file="waves.png"),
    _art("GIF", b"GIF89a\x01\x00\x01\x00\x00\x00\x00;", "not a PNG, JPEG, TIFF or SVG", file="waves.gif"),
    _art("picture cut short", blank_png(500)[:60], "the picture is damaged", file="waves.png"),
    _art("60,000 pixels square", png_file(60000, 60000, 1, 0, b"x\x9c"), "too large", file="waves.png"),
    _art(
        "12,000 pixels square",
        png_file(12000, 12000, 1, 0, b"x\x9c"),
        "12000 × 12000 pixels, more than 24 million",
        "scale it down",
        file="waves.png",
    ),
    _art("no XML", b"<svg><g></svg>", "not well-formed XML"),
    _art("not SVG's namespace", b'<svg xmlns="urn:other"/>', "outermost element is not svg"),
    _art("no size", svg("", '<svg xmlns="http://www.w3.org/2000/svg">'), "states no size"),
    _art("absurd size", svg("", '<svg xmlns="http://www.w3.org/2000/svg" width="1e9" height="1">'), "not a length"),
]

FAULTS = [*TOML, *KEYS, *HOLES, *ART]
