"""Read how the faces are to be finished: [finish], and the screen that artwork may have of its own."""

import math
from dataclasses import replace
from typing import Any, get_args

from facegraphic.geometry.dots import finest_ruling
from facegraphic.job.files import Files
from facegraphic.job.image import Screen, ScreenKind
from facegraphic.job.model import Finish, Polarity, Tolerances
from facegraphic.job.reader import Table, finite, read_clear, within
from facegraphic.lettering.library import DEFAULT_FONT, load_named
from facegraphic.stock.tables import Film, films, usual_tolerance
from facegraphic.units import MM_PER_INCH, format_number, parse_length

BLACK, BARE = "#000000", "#ffffff"
MARGIN = 2.5
EASY = 0.85  # of the finest ruling, by default: room for pixels that sizes are rounded to
COARSEST = 2.0  # lines to the inch
SCREEN_KEYS = ("screen", "ruling", "screen-angle")


def read_finish(table: Table, own: tuple[Table, Table], files: Files, paint: str) -> Finish:
    """[finish], and one's `own` [tolerance] and [limits], with the stock's figures for the rest.

    Problems go to the tables' notes.
    """
    tolerance, limits = own
    film = _limited(films()[table.choice("process", "waterslide-clear", tuple(films()))], limits)
    polarity = _polarity(table, film)
    ink, ground = _inks(table, film, polarity, paint)
    border = _only(table, "border", film.border, "no resist, and so no border of it", film, 20.0)
    finish = Finish(
        film=film,
        ink=ink,
        font=files.named_font(table, "font") or load_named(DEFAULT_FONT),
        bleed=table.length("bleed", film.bleed, high=20.0),
        margin=_margin(table, film, border),
        dpi=table.whole("dpi", 600, 72, 4800),
        mirrored=bool(table.flag("mirror", film.mirrored)),
        ground=ground,
        holes=table.choice("holes", film.holes, ("mark", "clear", "through")),
        clear=read_clear(table, None),
        cut=table.choice("cut", film.cut, ("line", "ticks", "none")),
        cap=table.length("height", 2.8, low=0.5, high=50.0),
        gap=table.length("gap", 0.8, low=0.1, high=20.0),
        halo=table.length("halo", 0.0, high=10.0),
        tolerance=_tolerances(tolerance, film.name),
        screen=_screen(table, film, polarity, Screen(ruling=_easy(film, polarity))),
        polarity=polarity,
        border=border,
        choke=_only(table, "choke", film.choke, "no white plate", film, 1.0),
    )
    if finish.sunk and finish.cut == "line":
        table.problem("cut", "a cut line cannot be seen in a resist that covers the edge", 'use cut = "ticks"')
    table.close()
    return finish


def _limited(film: Film, table: Table) -> Film:
    """A process with what one's own printer and material hold, as the test page shows it, in place of the stock's."""

    def least(key: str, usual: float) -> float:
        return table.length(key, usual, low=0.02, high=10.0)

    own = replace(
        film,
        line=least("line", film.line),
        gap=least("gap", film.gap),
        line_reversed=least("line-reversed", film.line_reversed),
        gap_reversed=least("gap-reversed", film.gap_reversed),
        text=least("text", film.text),
    )
    table.close()
    return own


def _tolerances(table: Table, process: str) -> Tolerances:
    """What the job says of its own work goes before the stock; its own `print` holds on a corrected printer too."""
    usual = {key: usual_tolerance(key, process) for key in ("drill", "size", "print", "place", "print-corrected")}
    corrected = min(usual["print"], usual["print-corrected"])
    asked = {key: table.length(key, usual[key], high=10.0) for key in ("drill", "size", "print", "place")}
    found = Tolerances(**asked, corrected=asked["print"] if table.has("print") else corrected)
    table.close()
    return found


def read_screen(table: Table, finish: Finish) -> Screen:
    """The screen of an artwork: the finish's, with what the artwork changes of it."""
    return _screen(table, finish.film, finish.polarity, finish.screen)


def _inks(table: Table, film: Film, polarity: Polarity, paint: str) -> tuple[str, str | None]:
    """Ink and ground. Toner is black and knows no others; in a sunk face it lies round lettering that is left bare."""
    ink, ground = table.colour("ink", BLACK), table.ground("ground", paint if film.ground == "paint" else None)
    if polarity == "sunk":
        return BARE, BLACK
    return (BLACK, None) if film.bits == 1 else (ink, ground)


def _polarity(table: Table, film: Film) -> Polarity:
    polarity: Polarity = table.choice("polarity", "raised", get_args(Polarity))
    if polarity == "sunk" and film.look != "relief":
        table.problem("polarity", f"{film.name} etches nothing, so nothing can be sunk", 'use process = "toner-resist"')
        return "raised"
    return polarity


def _only(table: Table, key: str, default: float, what: str, film: Film, high: float) -> float:
    """A length that only some processes have; theirs have a default above 0."""
    length = table.length(key, default, high=high)
    if length and not default:
        table.problem(key, f"{film.name} has {what}", f"leave {key} out")
        return 0.0
    return length


def _margin(table: Table, film: Film, border: float) -> float:
    """The margin, outside a border of resist by the process's gap."""
    least = border + max(film.gap, film.gap_reversed) if border else 0.0
    margin = table.length("margin", max(MARGIN, least), high=50.0)
    if margin < least - 1e-9:
        mend = f"make it {format_number(least, 2)} or more, or the border narrower"
        table.problem("margin", f"{margin:g} mm lets lettering into the border of {border:g} mm", mend)
    return margin


def _easy(film: Film, polarity: Polarity) -> float:
    return float(math.floor(EASY * _finest(film, polarity)))


def _finest(film: Film, polarity: Polarity) -> float:
    """The finest ruling that a process holds, in lines to the inch."""
    if polarity == "sunk":
        return finest_ruling(film.line_reversed, film.gap_reversed)
    return finest_ruling(film.line, film.gap)


def _screen(table: Table, film: Film, polarity: Polarity, usual: Screen) -> Screen:
    """`screen`, `ruling` and `screen-angle`; a process with greys screens nothing."""
    kind: ScreenKind = table.choice("screen", usual.kind, get_args(ScreenKind))
    screen = Screen(
        kind,
        table.value("ruling", usual.ruling, _lines),
        table.number("screen-angle", usual.angle, -360.0, 360.0, "degrees"),
    )
    asked = [key for key in SCREEN_KEYS if table.has(key)]
    if film.bits > 1:
        for key in asked:
            table.problem(key, f"{film.name} prints greys and needs no screen", f"leave {key} out")
        return usual
    if kind != "dots":
        for key in asked:
            if key != "screen":
                table.problem(key, "only round dots have it", f'add screen = "dots", or leave {key} out')
        return screen
    finest = _finest(film, polarity)
    if screen.ruling > finest + 1e-9:
        what = f"{film.name} cannot hold {format_number(screen.ruling, 1)} lines to the inch"
        coarser = math.floor(finest)
        mend = f"use ruling = {coarser} or fewer (dots {format_number(MM_PER_INCH / coarser, 2)} mm apart or more)"
        table.problem("ruling", what, mend)
        return usual
    return screen


def _lines(value: Any) -> float:
    """A ruling in lines to the inch: a number is just that, a text is how far the dots stand apart."""
    if isinstance(value, str):
        apart = parse_length(value)
        if apart <= 0:
            raise ValueError('dots stand some way apart, as in "1 mm"')
        value = MM_PER_INCH / apart
    return within(finite(value), COARSEST, 300.0, "lines to the inch")
