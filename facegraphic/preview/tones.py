"""What the parts of a box are made of, so that they go with its paint."""

from dataclasses import dataclass

from facegraphic.film.colour import coded, luminance, to_linear
from facegraphic.preview.model import Material
from facegraphic.stock.shown import surfaces

DARK = 0.012  # luminance of a paint on which black knobs would be lost


@dataclass(frozen=True)
class Tones:
    paint: Material
    knob: Material
    line: Material
    lens: Material

    @classmethod
    def of(cls, paint: str, lit: bool) -> "Tones":
        """Knobs black, but ivory on paint that is nearly black; pointer lines in contrast to them."""
        dark = float(luminance(to_linear(coded(paint)))) < DARK
        knob, line = ("ivory", "dark-line") if dark else ("black", "light-line")
        return cls(material("paint", paint), material(knob), material(line), material("lens-lit" if lit else "lens"))


def material(name: str, colour: str = "") -> Material:
    """A material of surfaces.toml, in its own or in another colour."""
    row = surfaces()[name]
    return Material(name, colour or row.colour, row.rough, row.metal, row.glow)
