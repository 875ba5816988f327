"""The harnesses: readers, and the inputs for each."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from . import large, large_fonts, left, mutate, readers, scans, seeds, words


@dataclass(frozen=True)
class Target:
    """A reader, the inputs for it, how many of them the short run takes, and the seconds that one may take."""

    name: str
    read: Callable[[bytes], object]
    inputs: Callable[[], mutate.Maker]
    short: int = 300
    seconds: float | None = None


def _texts(seeds_: Sequence[bytes], known: Sequence[bytes], *ways: large.Grown) -> mutate.Maker:
    """Texts like the seeds, seldom large in the ways of all texts or in those of the format."""
    return large.grown(mutate.texts(seeds_, known), *large.TEXTS, *ways * 3)


def _dxf() -> mutate.Maker:
    either = mutate.either(mutate.texts(seeds.drawings(), words.DXF), mutate.binaries(seeds.drawings()))
    return large.grown(either, *large.TEXTS, *(large.laughing,) * 3)


_KINDS = (
    Target("job", readers.read_job, lambda: _texts(seeds.jobs(), words.TOML, large.crowded)),
    Target("layout", readers.lay_out, lambda: _texts(seeds.jobs(), words.TOML), short=6),
    # Faces that are crowded all over are laid out longer than anything else takes.
    Target("crowd", readers.lay_out, lambda: lambda choices: large.crowded(choices, b""), short=1, seconds=30.0),
    Target("csv", readers.read_drilled, lambda: _texts(seeds.csv(), words.TABLE, large.rows)),
    Target("nc", readers.read_drilled, lambda: _texts(seeds.nc(), words.NC, large.drilled)),
    Target("dxf", readers.read_drilled, _dxf, short=150),
    Target("holes", readers.read_drilled, lambda: _texts(seeds.SVG_HOLES, words.SVG, large.drawn)),
    Target("art", readers.read_art, lambda: _texts(seeds.art(), words.SVG, large.drawn), short=150),
    Target("font", readers.read_font, lambda: large.grown(
        mutate.binaries(seeds.fonts()), *large_fonts.FONTS
    ), short=150),
    Target("picture", readers.read_picture, lambda: large.grown(
        mutate.binaries(seeds.pictures()), large.wide_png, large.wide_picture
    )),
    Target("scan", scans.read_scan, scans.scans, short=12, seconds=20.0),
    Target("printers", readers.read_printer_file, lambda: _texts(seeds.PRINTERS, words.PRINTERS), short=150),
    Target("left", left.read_left, lambda: large.grown(left.records(), *large.TEXTS, left.many_records), short=120),
)  # fmt: skip
TARGETS = {target.name: target for target in _KINDS}
