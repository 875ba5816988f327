"""The files that a job names, read from the job's own folder tree or by full path."""

from functools import lru_cache
from hashlib import sha256
from pathlib import Path

from facegraphic.drill.model import MOST_BYTES as MOST_HOLE_BYTES
from facegraphic.drill.model import Asked, Reading
from facegraphic.drill.read import read_holes
from facegraphic.errors import UserError, brief, nearest
from facegraphic.job.drawings import looks_like_svg, read_drawing
from facegraphic.job.image import Drawing, Picture
from facegraphic.job.model import Painted
from facegraphic.job.reader import Table, shown
from facegraphic.job.reading import read_file
from facegraphic.lettering.directory import FontError
from facegraphic.lettering.font import Font
from facegraphic.lettering.library import load_named, named_fonts, symbol_font
from facegraphic.stock.limits import limit

MOST_FONT_BYTES = limit("font-bytes")
MOST_JOB_PIXELS = limit("job-pixels")
MOST_ART_BYTES = limit("picture-bytes")


@lru_cache(maxsize=8)
def _loaded(name: str, data: bytes) -> Font:
    """The same bytes are the same font, so that jobs read twice are equal."""
    return Font(name, data, symbol_font)


class Files:
    """Reads what a job names; whatever is wrong becomes a problem at the key that named it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.read: dict[Path, str] = {}  # all that was asked for, with its hash; "" where it could not be read
        self._arts: dict[str, Picture | Drawing] = {}  # one file may stand in many places, and is read once
        self._pixels = 0

    @property
    def named(self) -> frozenset[Path]:
        return frozenset(self.read)

    def _bytes(self, table: Table, key: str, name: str, most: int) -> bytes | None:
        path = self.folder / name
        self.read[path] = ""
        try:
            data = read_file(path, most)
            self.read[path] = sha256(data).hexdigest()
            return data
        except UserError as error:
            table.problem(key, f"{shown(name)}: {error.problems[0].what}", error.problems[0].mend)
        return None

    def named_font(self, table: Table, key: str) -> Font | None:
        """A font by its name in the library or by its file; None when the key is absent or wrong."""
        if not table.has(key):
            return None
        wrong = "\0"  # no text of a TOML file is this
        name = table.text(key, wrong)
        if name == wrong:
            return None
        if name in named_fonts():
            return load_named(name)
        if name.lower().endswith((".ttf", ".otf")):
            return self._font(table, key, name)
        mend = f"{nearest(name, named_fonts())}; or give a TTF or OTF file"
        table.problem(key, f"{shown(name)} is not known here", mend)
        return None

    def _font(self, table: Table, key: str, name: str) -> Font | None:
        data = self._bytes(table, key, name, MOST_FONT_BYTES)
        if data is None:
            return None
        try:
            return _loaded(Path(name).stem, data)
        except FontError as error:
            table.problem(key, f"{shown(name)} cannot be used as a font: {brief(error)}", "give a TTF or OTF file")
        return None

    def holes(self, table: Table, key: str, name: str, asked: Asked) -> Reading | None:
        """The holes of a file of any kind; None if it cannot be read at all."""
        data = self._bytes(table, key, name, MOST_HOLE_BYTES)
        if data is None:
            return None
        reading = read_holes(data, name, asked)
        table.notes.problems += reading.problems
        return reading

    def art(self, table: Table, key: str, name: str) -> Picture | Drawing | None:
        if name in self._arts:
            return self._arts[name]
        data = self._bytes(table, key, name, MOST_ART_BYTES)
        if data is None:
            return None
        try:
            if looks_like_svg(data):
                read: Picture | Drawing = read_drawing(data, name)
            else:
                # What reads pictures, and what reads regions below, takes a while to load: for files of their own only.
                from facegraphic.job.pictures import read_picture

                read = read_picture(data)
            self._pixels += read.width * read.height if isinstance(read, Picture) else 0
            if self._pixels > MOST_JOB_PIXELS:
                millions = MOST_JOB_PIXELS // 10**6
                raise ValueError(f"the job's pictures have more than {millions} million pixels; scale them down")
            self._arts[name] = read
            return read
        except ValueError as error:
            table.problem(key, f"{shown(name)} cannot be used as artwork", str(error))
        return None

    def painted(self, table: Table, key: str, name: str, size: tuple[float, float] | None = None) -> Painted | None:
        """What an SVG paints, its middle at zero, to be stretched to a size; None if it cannot be told."""
        data = self._bytes(table, key, name, MOST_ART_BYTES)
        if data is None:
            return None
        try:
            if not looks_like_svg(data):
                raise ValueError("a region to be sprayed is drawn as SVG: trace the picture, or draw its shapes")
            from facegraphic.job.painted import painted_area

            return painted_area(read_drawing(data, name), size)
        except ValueError as error:
            table.problem(key, f"{shown(name)} cannot be used as a region", str(error))
        return None
