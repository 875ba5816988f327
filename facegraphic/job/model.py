"""A job as values: what a box is, what its faces hold, how they are to be finished. Lengths are mm.

Positions stand round the face centre, x right and y up, whatever origin the file used. Everything named in the
file has been looked up: a control has its part, a finish its film and font, an art its pixels or paths.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, get_args

from facegraphic.job.image import Drawing, Picture, Screen

if TYPE_CHECKING:  # names of types only: scenes are drawn without shapely, fonts or tables
    from shapely.geometry.base import BaseGeometry

    from facegraphic.drill.fit import Fit as HoleFit
    from facegraphic.errors import Problem
    from facegraphic.geometry.path import Box, Path, Point
    from facegraphic.lettering.font import Font
    from facegraphic.stock.faces import Outline, Side
    from facegraphic.stock.tables import BoxSize, Film, Knob, Paper, Part

Place = Literal[
    "auto", "below", "above", "left", "right", "above-left", "above-right", "below-left", "below-right",
    "around", "under",
]  # fmt: skip
PLACES: tuple[Place, ...] = get_args(Place)
ARCS: tuple[Place, ...] = ("around", "under")  # places at which a label is bent round its control
HoleTreatment = Literal["mark", "clear", "through"]
Cut = Literal["line", "ticks", "none"]
ScaleStyle = Literal["lines", "dots", "growing-dots", "wedge", "band"]
Numerals = Literal["upright", "radial", "none"]
Fit = Literal["cover", "contain", "stretch", "tile"]
Polarity = Literal["raised", "sunk"]
CoatKind = Literal["paint", "primer", "clear"]
MaskKind = Literal["adhesive", "stencil", "paper"]
NamedRegion = Literal["everything", "legends", "frames"]


@dataclass(frozen=True)
class Hole:
    """A drilled hole; ids are unique on a face. Where it was measured it stands there, and `planned` is its plan."""

    id: str
    x: float
    y: float
    d: float
    planned: Point | None = None


@dataclass(frozen=True)
class Scale:
    """What a turning control is marked with over its travel.

    Marks stand at `figures` (in proportion between the first and the last) or at `words` (evenly); `detent` is the
    figure of a centre detent, which gets a mark of its own kind.
    """

    figures: tuple[float, ...] = ()
    words: tuple[str, ...] = ()
    numerals: Numerals = "upright"
    style: ScaleStyle = "lines"
    detent: float | None = None

    @property
    def texts(self) -> tuple[str, ...]:
        """The text of each mark in order."""
        return self.words or tuple(f"{figure:.6g}".replace("-", "−") for figure in self.figures)

    @property
    def shares(self) -> tuple[float, ...]:
        """How far along the travel each mark stands, 0 to 1."""
        if self.words:
            return tuple(i / (len(self.words) - 1) for i in range(len(self.words)))
        return tuple(self.share(figure) for figure in self.figures)

    def share(self, figure: float) -> float:
        first, last = self.figures[0], self.figures[-1]
        return (figure - first) / (last - first)


@dataclass(frozen=True)
class Control:
    """What sits in a hole and how it is labelled; `cap` is the legend's capital height.

    `turn` is how far its body is turned below the panel, degrees clockwise seen from outside.
    `bearing` is where the middle of a label on an arc stands, None where it usually is; `clear` is how far round the
    hole's edge the art is knocked out, None to be chosen.
    """

    hole: str
    key: str
    part: Part | None = None
    knob: Knob | None = None
    label: str = ""
    place: Place = "auto"
    positions: tuple[str, ...] = ()
    lever: Literal["upright", "sideways"] = "upright"
    scale: Scale | None = None
    cap: float = 2.8
    nudge: Point = (0.0, 0.0)
    bearing: float | None = None
    clear: float | None = None
    turn: float = 0.0


@dataclass(frozen=True)
class FreeText:
    """Text of its own; `at` is the centre of its body, or None to find room."""

    text: str
    at: Point | None
    cap: float
    angle: float = 0.0
    tracking: float = 0.0
    align: Literal["left", "centre", "right"] = "centre"
    ink: str = "#000000"
    font: Font | None = None


@dataclass(frozen=True)
class Frame:
    """A ruled outline round the controls of some holes, its label breaking the line."""

    holes: tuple[str, ...]
    label: str
    cap: float


@dataclass(frozen=True)
class Line:
    """A ruled line between sections of a face, its label breaking it in the middle."""

    start: Point
    end: Point
    width: float
    label: str = ""
    cap: float = 2.8


@dataclass(frozen=True)
class Art:
    """Artwork that fills a region (None: the face and its bleed); `tile` is a tile's width in mm."""

    name: str
    image: Picture | Drawing
    fit: Fit
    opacity: float = 1.0
    region: Box | None = None
    tile: float = 0.0
    angle: float = 0.0
    screen: Screen = field(default_factory=Screen)


@dataclass(frozen=True)
class Face:
    """One side of the box and all that it shows."""

    side: Side
    outline: Outline
    holes: tuple[Hole, ...]
    controls: tuple[Control, ...] = ()
    frames: tuple[Frame, ...] = ()
    lines: tuple[Line, ...] = ()
    texts: tuple[FreeText, ...] = ()
    arts: tuple[Art, ...] = ()
    ground: str | None = None
    told: tuple[Problem, ...] = ()  # what the drill file holds besides holes, or was taken on trust
    fit: HoleFit | None = None  # of the holes as measured, where the job gives them

    def hole(self, id: str) -> Hole:
        return next(hole for hole in self.holes if hole.id == id)

    def control(self, id: str) -> Control | None:
        return next((control for control in self.controls if control.hole == id), None)


@dataclass(frozen=True)
class Tolerances:
    """How far holes, prints and hands stray (mm). See stock/tolerances.toml for what each figure is.

    `corrected` is what `print` becomes on a printer whose scale is corrected.
    """

    drill: float
    size: float
    print: float
    place: float
    corrected: float


@dataclass(frozen=True)
class Finish:
    """How the faces are printed. `ground` colours the film under the art; None leaves it bare.

    `clear` is how far round the edges of holes the art is knocked out, None to be chosen for each.
    `border` is how far a resist reaches in from the edge of a face. With `polarity` "sunk" the resist lies everywhere
    but where lettering and art are etched in: ground black, ink bare. `choke` is how far a white plate is drawn in.
    """

    film: Film
    ink: str
    font: Font
    bleed: float
    margin: float
    dpi: int
    mirrored: bool
    ground: str | None
    holes: HoleTreatment
    clear: float | None
    cut: Cut
    cap: float
    gap: float
    halo: float
    tolerance: Tolerances
    screen: Screen = field(default_factory=Screen)
    polarity: Polarity = "raised"
    border: float = 0.0
    choke: float = 0.0

    @property
    def sunk(self) -> bool:
        return self.polarity == "sunk"

    @property
    def least_line(self) -> float:
        """The finest stroke or dot that holds, mm: of ink, or in a sunk face of what is left bare of it."""
        return self.film.line_reversed if self.sunk else self.film.line

    @property
    def least_gap(self) -> float:
        """The least that holds between strokes or dots, mm."""
        return self.film.gap_reversed if self.sunk else self.film.gap

    @property
    def least_text(self) -> float:
        """The smallest capitals that hold, mm: where finer strokes are lost, capitals have to be larger as well."""
        return self.film.text * self.least_line / self.film.line


@dataclass(frozen=True)
class Printer:
    """A printer by name, and how long the test page's 100 mm bars came out on it, in mm: across the page and up it."""

    name: str
    across: float
    up: float

    @property
    def scale(self) -> tuple[float, float]:
        """By what everything is drawn larger, across and up, to come out true."""
        return (100 / self.across, 100 / self.up)


@dataclass(frozen=True)
class Sheet:
    """The film or paper that faces are printed on.

    `copies` of every face; `used`: boxes of the first sheet that earlier prints have taken, in mm right and down from
    its upper left corner; `edge`: what the printer leaves bare along the left, upper, right and lower edge; `gap`:
    between the bleeds of neighbours; `turn`: whether a face may lie turned by a quarter; `price` of one sheet, in
    whatever money.
    """

    paper: Paper
    copies: int = 1
    used: tuple[Box, ...] = ()
    edge: tuple[float, float, float, float] = (8.0, 8.0, 8.0, 8.0)
    gap: float = 5.0
    turn: bool = True
    price: float = 0.0


@dataclass(frozen=True)
class Board:
    """The circuit board inside the box, flat under the top face or on the lid, its edges along the box's.

    `size` across and deep; `at` is its middle, seen from above round the middle of the top face; `standoff` is from
    the top or the lid to the board's near side, where joints and leads reach `joints`; parts on the far side reach
    `parts`.
    """

    size: tuple[float, float]
    under: Literal["top", "lid"]
    at: Point
    standoff: float
    thickness: float
    parts: float
    joints: float


@dataclass(frozen=True)
class Painted:
    """What a drawing paints, as an area round the face centre, y up; `notes` say what was repaired in it."""

    name: str
    area: BaseGeometry
    notes: tuple[str, ...] = ()


Region = NamedRegion | Painted


@dataclass(frozen=True)
class Coat:
    """One coat of paint. What is sprayed is `where` and `shapes` together, less `keep`, on each of `sides`.

    `where` None: just the shapes. `mask` is what the mask is made of, `trap` how far paint spreads under later coats
    beside it, `bridge` how wide a stencil's bridges are, `overspray` how far past the face its neighbours are covered.
    A clear coat has no `paint`. `named` says what the shapes are, `key` where in the job file the coat stands.
    """

    kind: CoatKind
    paint: str | None
    sides: tuple[Side, ...]
    where: Region | None = "everything"
    keep: Region | None = None
    shapes: tuple[Path, ...] = ()
    mask: MaskKind = "adhesive"
    trap: float = 0.3
    bridge: float = 2.0
    overspray: float = 30.0
    named: tuple[str, ...] = ()
    key: str = ""


@dataclass(frozen=True)
class Shown:
    """How the preview shows the box: knobs turned to a share of their travel (0 to 1), lamps lit or not."""

    knobs: float = 0.5
    lamps: bool = True


@dataclass(frozen=True)
class Job:
    """One box. `across` and `deep` are the box's width and depth as it lies before its user.

    `read` has the paths of the files that it was read from, with their hashes (see ``output/made.py``).
    """

    file: str
    title: str
    box: BoxSize
    across: float
    deep: float
    paint: str
    finish: Finish
    faces: tuple[Face, ...]
    sheet: Sheet
    coats: tuple[Coat, ...] = ()
    printer: Printer | None = None
    board: Board | None = None
    shown: Shown = Shown()
    read: tuple[tuple[str, str], ...] = field(default=(), compare=False)
