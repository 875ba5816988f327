"""A finished face equals what the test puts together from the written art and the paint, for every process."""

from pathlib import Path

import numpy as np
import pytest
from helpers.composites import DPI, MM, Array, Work, alike, composite, flat_colour, job_with, seen_and_made, sprayed
from helpers.jobs import lay
from PIL import Image, ImageDraw
from samples import JOBS

from facegraphic.errors import UserError
from facegraphic.film.colour import coded, seen, to_coded
from facegraphic.pipeline.preparing import Prepared, Wishes, prepare
from facegraphic.pipeline.seeing import bare_look, face_look, looks
from facegraphic.preview.model import FaceLook
from facegraphic.stock.faces import SIDES
from facegraphic.stock.tables import films

ENOUGH = 0.99  # of the pixels differ by no more than 1 (CIEDE2000)
NEAR = 0.25  # mm round edges of face and holes, where marks, cut line and the film's edge stand
PROCESSES = tuple(films())
COARSE = 600  # dpi of prints without greys and of white plates, which the looks show coarser


def print_dpi(process: str) -> int:
    return COARSE if films()[process].bits == 1 else DPI


def middle(prepared: Prepared, number: int, look: FaceLook) -> tuple[Array, Array]:
    """Pixels well inside a face and clear of its holes, and pixels well outside it: drawn by Pillow."""
    layout = prepared.layouts[number]
    high, wide = look.picture.shape[:2]

    def area(grown: float) -> Array:
        page = Image.new("1", (wide, high))
        ring = layout.face.outline.grown(grown).path.rings()[0]
        ImageDraw.Draw(page).polygon([(wide / 2 + x * DPI / MM, high / 2 - y * DPI / MM) for x, y in ring], fill=1)
        return np.array(page)

    inside = area(-NEAR)
    for hole in layout.face.holes:
        inside &= from_hole(hole.x, hole.y, look) > hole.d / 2 + NEAR
    return inside, ~area(NEAR)


def from_hole(x: float, y: float, look: FaceLook) -> Array:
    """How far each pixel's middle is from a place, in mm."""
    high, wide = look.picture.shape[:2]
    across = (np.arange(wide) + 0.5 - wide / 2) * MM / DPI - x
    up = (high / 2 - np.arange(high) - 0.5) * MM / DPI - y
    return np.hypot(across[None, :], up[:, None])


def under(work: Work, side: str, look: FaceLook) -> Array:
    size = (look.picture.shape[1], look.picture.shape[0])
    return sprayed(work, side, len(work.data.get("coat", [])), size)


@pytest.mark.parametrize("process", PROCESSES)
@pytest.mark.parametrize("job", JOBS)
def test_a_finished_face_is_the_art_on_the_paint(tmp_path: Path, job: str, process: str) -> None:
    """Whether printed mirrored or not, the face reads right; the composite is unmirrored from the file."""
    dpi = print_dpi(process)
    path = job_with(tmp_path, job, process)
    for mirrored in (False, True):
        prepared, work = seen_and_made(path, dpi, mirrored)
        for number, layout in enumerate(prepared.layouts):
            look = face_look(prepared.job, layout, DPI, prepared.masks)
            wanted = composite(work, layout.face.side, under(work, layout.face.side, look), dpi)
            inside, outside = middle(prepared, number, look)
            assert inside.mean() > 0.6
            assert alike(look.picture, wanted, inside) >= ENOUGH
            body = flat_colour(work.paint if "coat" not in work.data else "#ece3cc")
            assert (look.picture[outside] == body).all()


def test_sunk_faces_too(tmp_path: Path) -> None:
    path = job_with(tmp_path, "kelp-drier", "toner-resist", 'polarity = "sunk"')
    prepared, work = seen_and_made(path, COARSE, None)
    look = face_look(prepared.job, prepared.layouts[0])
    inside, _ = middle(prepared, 0, look)
    assert alike(look.picture, composite(work, "top", under(work, "top", look), COARSE), inside) >= ENOUGH
    raised = job_with(tmp_path, "kelp-drier", "toner-resist")
    other = face_look((again := prepare(raised)).job, again.layouts[0])
    assert alike(look.picture, other.picture, inside) < 0.5


@pytest.mark.parametrize(
    ("job", "process"),
    [
        ("two-piers", "waterslide-clear"),
        ("drift-line", "waterslide-clear"),
        ("slow-ferry", "toner-transfer"),
        ("two-piers", "service-print"),  # whose white leaves most of the paint bare
    ],
)
def test_a_wrong_composite_is_seen(tmp_path: Path, job: str, process: str) -> None:
    """The comparison refuses a face on another paint, a face the wrong way round, and white film taken as clear."""
    dpi = print_dpi(process)
    prepared, work = seen_and_made(job_with(tmp_path, job, process), dpi, None)
    look = face_look(prepared.job, prepared.layouts[0], DPI, prepared.masks)
    inside, _ = middle(prepared, 0, look)
    paint = under(work, "top", look)
    assert alike(look.picture, composite(work, "top", paint, dpi), inside) >= ENOUGH
    other = np.clip(paint.astype(int) + np.array([12, -6, 9]), 0, 255).astype(np.uint8)
    assert alike(look.picture, composite(work, "top", other, dpi), inside) < ENOUGH
    assert alike(look.picture[:, ::-1], composite(work, "top", paint, dpi), inside) < ENOUGH
    white = job_with(tmp_path, job, "waterslide-white")
    opaque = face_look((again := prepare(white)).job, again.layouts[0], DPI, again.masks)
    assert alike(opaque.picture, composite(work, "top", paint, dpi), inside) < ENOUGH


def test_looks_agree_with_how_the_checks_see_colours() -> None:
    """A flat ground on every kind of film comes out as `film.colour.seen` has it, to a step of eight bits."""
    for process in PROCESSES:
        text = f'[box]\nsize = [60, 40, 30]\npaint = "#c9b17a"\n[finish]\nprocess = "{process}"\n'
        if films()[process].bits > 1:
            text += 'ground = "#8ab0d0"\n'
        job = prepare_text(text + '[[face]]\nside = "top"\n')
        look, film = face_look(job.job, job.layouts[0]), job.job.finish.film
        middle_pixel = look.picture[look.picture.shape[0] // 2, look.picture.shape[1] // 2]
        if film.look == "relief":
            continue
        ground = coded(job.job.finish.ground) if job.job.finish.ground else np.ones(3)
        wanted = to_coded(seen(ground, "#c9b17a", film.look)) * 255
        assert np.abs(middle_pixel - wanted).max() <= 0.51


def prepare_text(text: str) -> Prepared:
    from facegraphic.job.load import read_job
    from facegraphic.pipeline.preparing import prepare_job

    return prepare_job(read_job(text, Path("job.toml")))


MARKED = """\
[box]
size = [100, 60, 30]
paint = "#b0c4a0"
[finish]
process = "waterslide-clear"
holes = "{holes}"
cut = "{cut}"
[[face]]
side = "top"
hole = [{{ id = "a", at = [-20, 5], d = 10 }}, {{ id = "b", at = [30, -8], d = 6 }}]
"""


@pytest.mark.parametrize("cut", ["line", "ticks", "none"])
@pytest.mark.parametrize("holes", ["mark", "clear", "through"])
def test_no_marks_are_left_and_holes_are_dark(holes: str, cut: str) -> None:
    job = prepare_text(MARKED.format(holes=holes, cut=cut))
    look = face_look(job.job, job.layouts[0])
    away = np.ones(look.picture.shape[:2], bool)
    for x, y, d in ((-20, 5, 10), (30, -8, 6)):
        far = from_hole(x, y, look)
        assert look.picture[far < d / 2 - 0.15].max() < 30
        away &= far > d / 2 + 0.15
    assert (look.picture[away] == flat_colour("#b0c4a0")).all()


def test_white_film_shows_its_cut_edge_as_a_hair_line_and_clear_film_does_not() -> None:
    for process, lighter in (("waterslide-white", True), ("adhesive-label", True), ("waterslide-clear", False)):
        text = MARKED.format(holes="mark", cut="line").replace("waterslide-clear", process)
        text = text.replace("#b0c4a0", "#402018").replace(
            "holes =", 'ground = "#402018"\nholes =' if lighter else "holes ="
        )
        job = prepare_text(text)
        look = face_look(job.job, job.layouts[0])
        row = look.picture[look.picture.shape[0] // 2].astype(int)
        edge, inside = (row[i] - flat_colour("#402018") for i in (0, 2))
        assert bool(edge.min() > 20) is lighter
        assert not inside.any()  # a hair line and no more


def test_film_lies_within_the_outline_and_off_the_holes() -> None:
    job = prepare_text(MARKED.format(holes="mark", cut="line") + '[[face.text]]\ntext = "X"\nat = [0, 0]\n')
    look = face_look(job.job, job.layouts[0])
    assert look.film is not None
    inside, outside = middle(job, 0, look)
    assert (look.film[inside] == 255).all()
    assert not look.film[outside].any()
    assert not look.film[from_hole(-20, 5, look) < 4.8].any()


@pytest.mark.parametrize(("process", "film"), [(name, films()[name].look in ("white", "clear")) for name in PROCESSES])
def test_only_what_is_laid_as_film_has_any(tmp_path: Path, process: str, film: bool) -> None:
    prepared = prepare(job_with(tmp_path, "kelp-drier", process))
    assert (face_look(prepared.job, prepared.layouts[0]).film is not None) is film


def test_nothing_printed_on_clear_film_is_no_film() -> None:
    job = prepare_text(MARKED.format(holes="mark", cut="line"))
    assert face_look(job.job, job.layouts[0]).film is None


@pytest.mark.parametrize("job", JOBS)
def test_all_five_sides_have_a_look_that_fills_them(job: str) -> None:
    prepared = prepare(Path(__file__).parents[1] / "examples" / f"{job}.toml")
    found = looks(prepared)
    assert set(found) == set(SIDES)
    for layout in prepared.layouts:
        look = found[layout.face.side]
        assert look.extent.width == pytest.approx(layout.face.outline.size[0], abs=MM / DPI)
        assert look.extent.height == pytest.approx(layout.face.outline.size[1], abs=MM / DPI)
    for side, look in found.items():
        high, wide = look.picture.shape[:2]
        assert (look.extent.width, look.extent.height) == pytest.approx((wide * MM / DPI, high * MM / DPI))
        assert look.extent.centre == pytest.approx((0, 0))
        if side not in {layout.face.side for layout in prepared.layouts}:
            assert len(np.unique(look.picture.reshape(-1, 3), axis=0)) == 1


def test_a_printer_s_correction_and_tolerances_do_not_show(tmp_path: Path) -> None:
    from facegraphic.job.model import Printer

    path = job_with(tmp_path, "slow-ferry", "waterslide-white")
    plain, other = prepare(path), prepare(path, Wishes(printer=Printer("attic", 98.0, 101.0)))
    for one, two in zip(plain.layouts, other.layouts, strict=True):
        assert np.array_equal(face_look(plain.job, one).picture, face_look(other.job, two).picture)


def test_equal_values_give_equal_pixels_at_any_dpi(tmp_path: Path) -> None:
    prepared = prepare(job_with(tmp_path, "kelp-drier", "toner-transfer"))
    for dpi in (72, 150, 317, 600):
        one, two = (face_look(prepared.job, prepared.layouts[0], dpi) for _ in range(2))
        assert np.array_equal(one.picture, two.picture)
        assert one.picture.shape[0] == pytest.approx(prepared.layouts[0].face.outline.size[1] * dpi / MM, abs=1)
    assert bare_look(prepared.job, "left").picture.shape[2] == 3


BOX = """\
[box]
size = {}
corner = {}
[finish]
process = "{}"
cut = "none"
margin = 0
{}
[[face]]
side = "front"
"""


@pytest.mark.parametrize("process", PROCESSES)
def test_boxes_of_any_size_have_looks(process: str) -> None:
    """The smallest box that a job may have, a front of a tenth of a millimetre, and one of metres: seen less finely."""
    border = "border = 0" if films()[process].border else ""
    for size, corner, bleed in (([5, 5, 5], 2.45, 0), ([600, 540, 300], 3, 2)):
        job = prepare_text(BOX.format(size, corner, process, f"{border}\nbleed = {bleed}"))
        found = looks(job, 300)
        assert set(found) == set(SIDES)
        front, outline = found["front"], job.layouts[0].face.outline
        high, wide = front.picture.shape[:2]
        assert max(look.picture.size for look in found.values()) <= 3 * 6_100_000
        assert front.extent.width == pytest.approx(outline.size[0], abs=2 * front.extent.width / wide)
        assert front.extent.height == pytest.approx(outline.size[1], abs=2 * front.extent.height / high)


def test_a_print_finer_than_needed_keeps_its_tone(tmp_path: Path) -> None:
    """Toner at 2400 dpi is looked at half as finely: the mean light of a face comes out the same."""
    fine = 2400
    prepared, work = seen_and_made(job_with(tmp_path, "kelp-drier", "toner-transfer"), fine, None)
    look = face_look(prepared.job, prepared.layouts[0])
    inside, _ = middle(prepared, 0, look)
    wanted = composite(work, "top", under(work, "top", look), fine)
    assert alike(look.picture, wanted, inside) > 0.97
    assert look.picture[inside].mean() == pytest.approx(wanted[inside].mean(), abs=0.2)


def test_a_job_that_cannot_be_read_is_not_looked_at(tmp_path: Path) -> None:
    with pytest.raises(UserError):
        prepare(lay(tmp_path, "[box]\n"))
